"""What both ends of the table agree on: values and rules that neither wait, draw lots nor show anything."""
