"""What an alloy is: mixing law, properties, X-ray lines, elastic and sound data, and possible compositions."""
