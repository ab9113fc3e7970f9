"""The workbench in a browser: parse the request, call the workbench, show what it says. Nothing of the trade is here."""
