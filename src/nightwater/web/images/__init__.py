"""Pictures of the ground: their squares on the map, and the page where one is placed."""
