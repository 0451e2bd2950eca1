"""Facts of the shop: materials, blades, drills, saws, limits; all from TOML with sources."""
