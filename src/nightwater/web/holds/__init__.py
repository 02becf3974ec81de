"""The Holds page: what stays dry, until when, and what that keeps back."""
