"""What is screwed, pushed or strapped to the body: threads, connectors, rings, holder, valve, lugs."""
