"""The Watch: what the shift lead must know of, most pressing first."""
