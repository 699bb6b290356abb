"""From the inputs to the results. Nothing here reads or writes stored results, except `seen`."""
