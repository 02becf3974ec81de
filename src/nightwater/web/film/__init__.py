"""The film of a night: open heads, flow and depth so far, scrubbed through time."""
