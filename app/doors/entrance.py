"""What ``kedgewise serve`` starts: the web app with its gate before it."""

from typing import Final

from starlette.middleware import Middleware
from streamlit import config
from streamlit.starlette import App

from app.doors.gate import Gate
from app.doors.rights import pairing_file
from app.pages import MAIN

app: Final = App(
    MAIN,
    middleware=[
        Middleware(
            Gate,
            hosts=list(config.get_option("server.allowedHosts")),
            port=int(config.get_option("server.port")),
            pairing=pairing_file(),
        )
    ],
)
