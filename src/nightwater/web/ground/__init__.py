"""The Ground page: the record on a map, and its doubts."""
