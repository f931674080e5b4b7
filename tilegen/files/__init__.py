"""Files in and out: TOML, drawings, meshes, schemas; whole files or none."""
