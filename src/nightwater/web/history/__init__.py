"""Every accepted change of the record, and the way back."""
