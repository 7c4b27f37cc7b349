"""How gunicorn serves the site; it reads this file by itself."""

threads = 4
# It would lie in the home folder of whoever runs the site; signals do the same.
control_socket_disable = True
