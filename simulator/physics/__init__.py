"""What burns, blows, conducts and dries: the laws, without any kiln."""
