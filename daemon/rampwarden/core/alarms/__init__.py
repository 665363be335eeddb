"""From conditions that come and go to alarms that stand, in states and in words."""
