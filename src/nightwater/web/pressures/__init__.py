"""What the solved pipes say of one minute: pressures at heads, velocities, the pumps' duty."""
