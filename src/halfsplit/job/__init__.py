"""The job as a fold over its log: from what was entered to the evidence, and back to what it means."""
