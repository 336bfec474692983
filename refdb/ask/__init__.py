"""What a person asks in plain words: which answer is wanted, from the judge, the rules or the cautions."""
