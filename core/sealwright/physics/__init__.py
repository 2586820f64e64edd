"""The physics of a mask that is worn: contact, leak, breathing, comfort, as plain arrays and settings."""
