"""Units at the edges, masses in whole milligrams, moisture bases. Pure numbers, nothing else."""
