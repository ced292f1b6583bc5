"""Use cases by subject. They depend on ports and the engine, never on databases or HTTP."""
