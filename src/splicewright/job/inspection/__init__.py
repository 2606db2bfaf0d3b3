"""Can it run? A joint in service judged on its conveyor."""
