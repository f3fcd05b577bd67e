"""What the nail-in-canal model foresees for one bone plan; docs/forecast.md. Not validated clinically."""
