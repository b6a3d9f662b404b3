"""Read sweep files and typed readings into sweeps; write sweeps and results out again."""
