-- When each procedure was last used is asked by every front page.

CREATE INDEX lockouts_by_procedure ON lockouts (mill, procedure, at);
