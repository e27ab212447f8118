"""Keeps coded findings and digests, and gives an assessment back."""
