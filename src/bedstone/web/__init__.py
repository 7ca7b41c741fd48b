"""Pages for office and floor, server-rendered, and a small JSON interface beside them."""
