"""A job as a YAML file: read by hand, written back, with the place of every word.

``parse_job`` turns a text into a ``Job`` or into *all* its mistakes, each with file, line, column, what
is allowed there, and the word that was probably meant.  ``write_job`` writes the canonical file of a job;
parsing it gives an equal job, but for places.  The grammar is told in ``docs/jobfile.md``; the words come
from the fault book.
"""

from halfsplit.jobfile.onto import parse_entries, parse_machine
from halfsplit.jobfile.parse import load_job, parse_job
from halfsplit.jobfile.vocabulary import vocabulary
from halfsplit.jobfile.write import write_job, write_known

__all__ = ["load_job", "parse_entries", "parse_job", "parse_machine", "vocabulary", "write_job", "write_known"]
