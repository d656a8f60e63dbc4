"""Room `readings`: takes a survey file or typed answers and a head, gives `Readings`; does not know shape."""
