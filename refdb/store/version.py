"""What stands in the header of every store, apart from the tables, which no look-up needs to know."""

SCHEMA_VERSION = 1
#: PRAGMA application_id: the letters "refd".
APPLICATION_ID = 0x72656664
