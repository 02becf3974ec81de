"""The pipe network: routes, limits, losses and pump energy."""
