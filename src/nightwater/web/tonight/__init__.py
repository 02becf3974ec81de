"""The Tonight page: plan, look, approve."""
