"""The Ledger page: water, energy and money, night by night."""
