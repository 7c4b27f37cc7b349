"""The pages of one yard that show a planned date."""

from django.urls import path

import scheduling.pages.boat as boat
import scheduling.pages.desk as desk
import scheduling.pages.today as today
import scheduling.pages.wall as wall

urlpatterns = [
    path("wall/", wall.wall, name="wall"),
    path("wall/pack/", wall.pack, name="pack"),
    path("wall/pack/stop/", wall.stop, name="stop"),
    path("wall/post/", wall.post, name="post"),
    path("wall/undo/", wall.back, name="undo"),
    path("today/", today.today, name="today"),
    path("today/stage/<int:stage>/<slug:word>/", today.act, name="act"),
    path("desk/", desk.desk, name="desk"),
    path("desk/promise/<int:treatment>/", desk.promise, name="promise"),
    path("boat/<int:boat>/", boat.boat, name="boat"),
    path("boat/<int:boat>/correct/", boat.correct, name="correct"),
]
