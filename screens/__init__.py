"""What a person sees, hears and feels."""
