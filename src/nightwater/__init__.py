"""Plan, prove and account for every night of golf-course irrigation."""
