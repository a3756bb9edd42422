"""The plugins' own tests run in a process of their own, with the plugin installed."""

collect_ignore = ["example_plugin", "broken_plugin"]
