"""Draft -> Answer: the only maker of an answer; decides every code, figure, step, warning and refusal."""
