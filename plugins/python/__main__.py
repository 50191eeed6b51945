"""A Rootward rule plugin in Python: the rules are in rules.py."""

import sys

import hosting
import rules

sys.exit(hosting.main(sys.argv, rules.table))
