"""From a question and everything known to verdicts: reach, evidence, checks, shortlist."""
