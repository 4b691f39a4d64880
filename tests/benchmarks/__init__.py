"""Speed, punctuality and memory of teachrig, each figure beside a reference taken in the same run."""
