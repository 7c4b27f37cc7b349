"""The pages of one yard that show a planned date."""

from django.urls import path

import scheduling.pages.ask as ask
import scheduling.pages.boat as boat
import scheduling.pages.desk as desk
import scheduling.pages.enquiry as enquiry
import scheduling.pages.helps as helps
import scheduling.pages.measure as measure
import scheduling.pages.out as out
import scheduling.pages.sign as sign
import scheduling.pages.today as today
import scheduling.pages.wall as wall

urlpatterns = [
    path("wall/", wall.wall, name="wall"),
    path("wall/pack/", wall.pack, name="pack"),
    path("wall/pack/stop/", wall.stop, name="stop"),
    path("wall/helps/", helps.helps, name="helps"),
    path("wall/helps/stop/", helps.stop, name="stop_helps"),
    path("wall/out/", out.out, name="out"),
    path("wall/out/<int:stoppage>/back/", out.back, name="back_again"),
    path("wall/out/<int:stoppage>/off/", out.off, name="call_off"),
    path("wall/post/", wall.post, name="post"),
    path("wall/undo/", wall.back, name="undo"),
    path("today/", today.today, name="today"),
    path("today/stage/<int:stage>/<slug:word>/", today.act, name="act"),
    path("desk/", desk.desk, name="desk"),
    path("desk/enquiry/", enquiry.enquiry, name="enquiry"),
    path("desk/ask/<int:treatment>/", ask.ask, name="ask"),
    path("desk/promise/<int:treatment>/", desk.promise, name="promise"),
    path("boat/<int:boat>/", boat.boat, name="boat"),
    path("boat/<int:boat>/correct/", boat.correct, name="correct"),
    path("boat/<int:boat>/arrival/", boat.arrival, name="arrival"),
    path("boat/<int:boat>/measure/", measure.measure, name="measure"),
    path("boat/<int:boat>/measure/round/", measure.take_round, name="take_round"),
    path("boat/<int:boat>/measure/wash/", measure.wash, name="wash"),
    path("boat/<int:boat>/measure/reading/", measure.correct, name="correct_reading"),
    path("boat/<int:boat>/sign/", sign.sign, name="sign"),
]
