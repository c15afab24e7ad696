"""What an X-ray instrument prints of a surface: as read, predicted for candidates, and forecast."""
