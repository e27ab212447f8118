"""The history of the archive's tables; each step goes up and down."""
