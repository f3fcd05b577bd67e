"""Room `practice`: the surgeon's own numbers, each named, ranged and sourced."""
