"""Files: how they are written safely, the formats lines go out in, lesson files and worksheets."""
