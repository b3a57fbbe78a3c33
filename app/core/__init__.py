"""The method as pure computation: no web, no database, no clock."""
