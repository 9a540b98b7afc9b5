"""The folder of CSV files: rules across rows, editing, pictures, the Data Package descriptor."""
