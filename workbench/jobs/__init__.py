"""Floor 4: one module for each thing a person does. A job reads a Tree and returns a Plan or a report."""
