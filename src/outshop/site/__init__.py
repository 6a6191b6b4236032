"""Settings, addresses and security of the web application."""
