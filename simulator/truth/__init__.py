"""What truly happened, by definition and never by what sensors show."""
