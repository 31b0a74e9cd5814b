"""Design → Card: mechanisms, rules, the search for dimensions, and the proof."""
