"""Where settings become parts, and parts a running watch: the only place that knows every one of them."""
