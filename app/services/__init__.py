"""What people do: one function a use case, that loads, computes with the core, and stores."""
