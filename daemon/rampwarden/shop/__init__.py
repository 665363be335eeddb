"""All furnaces of a broker, listened to from one place."""
