"""Tests of the safety rules; a package so that its helpers are imported by relation."""
