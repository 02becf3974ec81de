"""Speed and quality of the hard parts, as ratios against a bound or a peer."""
