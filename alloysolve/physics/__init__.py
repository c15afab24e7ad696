"""Relations of physics as pure array functions; they know no tables."""
