"""HTTP only: routes, bodies, authentication, problem details."""
