"""Where the face is in a scan and which way it looks, before any landmark is known."""
