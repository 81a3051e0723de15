-- How pages look to a person, by their own choice; '' where none was made.
CREATE TABLE settings (
    mill     TEXT   NOT NULL,
    person   TEXT   NOT NULL,
    language TEXT   NOT NULL,
    units    TEXT   NOT NULL,
    mark     TEXT   NOT NULL,
    scheme   TEXT   NOT NULL,
    size     TEXT   NOT NULL,
    changed  BIGINT NOT NULL,
    PRIMARY KEY (mill, person)
);
