"""Shows assessments, one surface a file. Takes an Assessment; decides nothing."""
