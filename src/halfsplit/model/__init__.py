"""The nouns, frozen: machine, ladder, faults, bench, book, job, and the evidence that the engine weighs."""
