"""What people are handed: each module writes one sheet from a Plan."""
