"""Pictures against closed formulas of projected areas, and properties that an eye would check."""

from __future__ import annotations

import io

import numpy as np
import pytest
import trimesh
from PIL import Image
from sealwright.mesh import TriMesh, joined, trimesh_of
from sealwright.render.annotations import nice_length
from sealwright.render.camera import VIEWS, Camera, framed
from sealwright.render.colormap import MAPS, colours_of
from sealwright.render.light import light_reaching
from sealwright.render.pictures import png_bytes, render
from sealwright.render.scene import LINE, SKIN, Cut, Label, Legend, Scene, Shown, ball, line_tube
from sealwright.render.shading import to_linear, to_srgb
from sealwright.render.soup import soup_of
from sealwright.render.tracing import Tracer

PLAIN = ((1.0, 1.0, 1.0), (1.0, 1.0, 1.0))
BODY, HOLDER = (0.30, 0.52, 0.60), (0.93, 0.64, 0.25)


def sphere(radius: float, centre: tuple[float, float, float] = (0, 0, 0), level: int = 5) -> TriMesh:
    made = trimesh.creation.icosphere(subdivisions=level, radius=radius)
    return trimesh_of(made.vertices + np.array(centre), made.faces)


def shell() -> TriMesh:
    return joined(sphere(40), sphere(30).flipped())


def plain_scene(*shown: Shown, cut: Cut | None = None) -> Scene:
    return Scene(shown, cut=cut, scale_bar=False, background=PLAIN)


def pixel_hits(scene: Scene, camera: Camera, size: tuple[int, int]):
    rows, columns = (a.ravel() + 0.5 for a in np.mgrid[0 : size[1], 0 : size[0]])
    return Tracer(soup_of(scene), scene).first_hits(*camera.rays(columns, rows, size))


def test_parallel_view_of_a_ball_covers_its_great_circle() -> None:
    ball_40 = sphere(40)
    camera = framed("front", ball_40.vertices, (800, 600), orthographic=True)
    picture = render(plain_scene(Shown(ball_40, (0, 0, 0))), camera, (800, 600)).astype(float)
    mm = camera.height_mm / 600
    # A black ball on white still shines a little at its rim; count cover by threshold of the edge blend.
    covered = (picture.mean(axis=2) < 200).sum() * mm * mm
    # The polyhedron of 20,480 faces is 0.05 % smaller than its ball; the rest is the pixel raster.
    assert covered == pytest.approx(np.pi * 40**2, rel=4e-3)


def test_edges_are_smooth_and_inner_pixels_are_not_blurred() -> None:
    plate = trimesh.creation.box(
        (30, 2, 30), transform=trimesh.transformations.rotation_matrix(0.2, [0, 1, 0])
    )
    shown = trimesh_of(plate.vertices, plate.faces)
    camera = framed("front", shown.vertices, (200, 150), orthographic=True)
    picture = render(plain_scene(Shown(shown, (0.1, 0.1, 0.1))), camera, (200, 150)).astype(int)
    grey = picture.mean(axis=2)
    inside = grey[75, 100]
    between = ((grey > inside + 10) & (grey < 245)).sum()
    # A tilted edge of about 4 x 120 pixels has a blended pixel at nearly every step.
    assert 200 < between < 1200


def test_cut_of_a_shell_is_a_ring_of_the_right_area() -> None:
    scene = plain_scene(Shown(shell(), BODY), cut=Cut((0, 0, 0), (1, 0, 0)))
    camera = framed("side", scene.points, (400, 400), orthographic=True)
    hits = pixel_hits(scene, camera, (400, 400))
    mm = camera.height_mm / 400
    ring = (hits.kind == 2).sum() * mm * mm
    assert ring == pytest.approx(np.pi * (40**2 - 30**2), rel=5e-3)  # raster of 0.24 mm pixels
    flat = hits.kind == 2
    assert np.allclose(hits.point[flat, 0], 0.0, atol=1e-3) and np.allclose(hits.normal[flat], [1, 0, 0])
    # Through the ring one looks into the hollow: the inner skin's outside faces the void.
    middle = hits.kind.reshape(400, 400)[200, 200]
    assert middle == 0 and hits.point.reshape(400, 400, 3)[200, 200, 0] == pytest.approx(-30, abs=0.1)


def test_what_reaches_into_a_cut_solid_behind_the_plane_leaves_its_face_whole() -> None:
    ball, reaching = sphere(40), sphere(20).moved(translated(-30.0))
    scene = plain_scene(Shown(ball, BODY), Shown(reaching, SKIN), cut=Cut((0, 0, 0), (1, 0, 0)))
    camera = framed("side", scene.points, (400, 400), orthographic=True)
    hits = pixel_hits(scene, camera, (400, 400))
    face = ((hits.kind == 2) & (hits.item == 0)).sum() * (camera.height_mm / 400) ** 2
    assert face == pytest.approx(np.pi * 40**2, rel=5e-3)  # raster of 0.24 mm pixels


def translated(x: float) -> np.ndarray:
    frame = np.eye(4)
    frame[0, 3] = x
    return frame


def test_cut_of_an_open_surface_is_a_line() -> None:
    half = sphere(40).submesh(sphere(40).corners[:, :, 1].max(axis=1) < 10)
    scene = plain_scene(Shown(half, SKIN, solid=False), cut=Cut((0, 0, 0), (1, 0, 0)))
    hits = pixel_hits(scene, framed("side", scene.points, (300, 300), orthographic=True), (300, 300))
    assert (hits.kind == 2).sum() == 0
    assert hits.point[hits.item >= 0, 0].max() == pytest.approx(
        0.0025 * np.linalg.norm(half.extents), rel=0.1
    )


def test_part_lying_on_an_open_surface_hides_it_evenly() -> None:
    dome = sphere(40)
    skin = dome.submesh(dome.corners[:, :, 1].max(axis=1) < 0)
    scene = plain_scene(Shown(skin, SKIN, solid=False), Shown(skin, BODY))
    hits = pixel_hits(scene, framed("front", scene.points, (100, 100), orthographic=True), (100, 100))
    inside = hits.item[hits.item >= 0]
    # The same surface twice: without a rule which is in front, rounding would make a chequered picture.
    assert (inside == 1).mean() > 0.99


def test_meshes_may_be_left_out_of_the_cut() -> None:
    cut = Cut((0, 0, 0), (1, 0, 0))
    whole = plain_scene(Shown(sphere(40), BODY, cut=False), cut=cut)
    assert soup_of(whole).corners[:, :, 0].max() == pytest.approx(40, abs=1e-6)
    assert soup_of(plain_scene(Shown(sphere(40), BODY), cut=cut)).corners[:, :, 0].max() <= 1e-9


@pytest.mark.parametrize("view", sorted(VIEWS))
@pytest.mark.parametrize("orthographic", [True, False])
def test_framing_fills_the_picture(view: str, orthographic: bool) -> None:
    points = np.random.default_rng(3).uniform(-1, 1, (500, 3)) * [30, 60, 90] + [5, -7, 11]
    camera = framed(view, points, (800, 600), orthographic, margin=0.08)
    seen = camera.project(points, (800, 600))[:, :2] / [800, 600]
    assert seen.min() >= 0.08 - 0.005 and seen.max() <= 0.92 + 0.005
    # At least one direction uses all the room left by the margins.
    assert np.ptp(seen, axis=0).max() == pytest.approx(0.84, abs=0.005)


@pytest.mark.parametrize("orthographic", [True, False])
def test_projection_and_rays_agree(orthographic: bool) -> None:
    points = np.random.default_rng(4).uniform(-40, 40, (50, 3))
    camera = framed("three-quarter", points, (640, 480), orthographic)
    seen = camera.project(points, (640, 480))
    origin, direction = camera.rays(seen[:, 0], seen[:, 1], (640, 480))
    miss = np.linalg.norm(np.cross(points - origin, direction), axis=1)
    assert miss.max() < 1e-9  # mm, rounding only
    assert np.allclose(np.einsum("ij,ij->i", points - origin, -camera.axes[2:3]), seen[:, 2], atol=1e-9)


def test_front_view_shows_the_left_of_the_wearer_on_the_right() -> None:
    marks = [Shown(sphere(5, (30, 0, 0), 3), LINE), Shown(sphere(5, (-30, 0, 0), 3), BODY)]
    scene = plain_scene(*marks)
    hits = pixel_hits(scene, framed("front", scene.points, (200, 100), orthographic=True), (200, 100))
    items = hits.item.reshape(100, 200)
    assert (items[:, 150:] == 0).any() and not (items[:, :50] == 0).any()
    assert (items[:, :50] == 1).any()


def test_nearer_mesh_hides_the_farther() -> None:
    scene = plain_scene(Shown(sphere(10, (0, 30, 0)), LINE), Shown(sphere(12, (0, -30, 0)), BODY))
    hits = pixel_hits(scene, framed("front", scene.points, (100, 100), orthographic=True), (100, 100))
    assert hits.item.reshape(100, 100)[50, 50] == 1 and not (hits.item == 0).any()


def test_hollow_gets_less_sky_than_a_plain() -> None:
    block = trimesh.creation.box((60, 60, 30))
    flat = trimesh_of(block.vertices, block.faces)
    bowl = trimesh.creation.annulus(r_min=6, r_max=30, height=40)
    well = joined(trimesh_of(bowl.vertices, bowl.faces), trimesh_of(flat.vertices - [0, 0, 25], flat.faces))

    def sky(mesh: TriMesh) -> float:
        scene = plain_scene(Shown(mesh, BODY))
        camera = framed((0, 0, 1), mesh.vertices, (64, 64), orthographic=True)
        rows, columns = (a.ravel() + 0.5 for a in np.mgrid[0:64, 0:64])
        tracer = Tracer(soup_of(scene), scene)
        hits = tracer.first_hits(*camera.rays(columns, rows, (64, 64)))
        share = light_reaching(tracer, hits, camera.axes, 64, camera.height_mm / 64)[:, 0].reshape(64, 64)
        return float(share[30:34, 30:34].mean())

    assert sky(flat) == 1.0
    assert sky(well) < 0.5


def test_values_are_coloured_and_nan_keeps_the_own_colour() -> None:
    plate = trimesh.creation.box((40, 4, 40))
    mesh = trimesh_of(plate.vertices, plate.faces)
    camera = framed("front", mesh.vertices, (80, 60), orthographic=True)

    def middle(values: np.ndarray) -> np.ndarray:
        legend = Legend("Gap", "mm", 0.0, 1.0)
        scene = Scene((Shown(mesh, (0.5, 0.5, 0.5), values=values),), legend=legend, scale_bar=False)
        return render(scene, camera, (80, 60))[30, 30].astype(int)

    low, high, none = (middle(np.full(8, v)) for v in (0.0, 1.0, np.nan))
    assert low[2] > low[1] and high[0] > high[2] and high[1] > high[2]  # violet and yellow
    assert np.ptp(none) < 20  # grey stays grey but for the tint of the lights


@pytest.mark.parametrize(("name", "way"), [("viridis", 1), ("cividis", 1), ("ember", -1)])
def test_colour_map_lightness_changes_evenly(name: str, way: int) -> None:
    colour = colours_of(np.linspace(0, 1, 101), 0, 1, name)
    # CIE 1976 lightness from linear luminance (ITU-R BT.709 weights).
    luminance = to_linear(colour) @ np.array([0.2126, 0.7152, 0.0722])
    lightness = np.where(luminance > 0.008856, 116 * np.cbrt(luminance) - 16, 903.3 * luminance)
    steps = way * np.diff(lightness)
    assert (steps > 0).all()
    # All maps span about 75 units of lightness; 8-bit tables make single steps uneven.
    assert np.ptp(lightness) > 70 and np.abs(steps[5:-5] - steps.mean()).max() < 0.45 * steps.mean()


def test_colour_map_ends() -> None:
    # End colours of the published tables: viridis #440154 to #fde725, cividis #00224e to #fee838.
    assert np.allclose(colours_of(np.array([-9.0, 9.0]), 0, 1) * 255, [[0x44, 1, 0x54], [0xFD, 0xE7, 0x25]])
    assert np.allclose(MAPS["cividis"][[0, -1]] * 255, [[0, 0x22, 0x4E], [0xFE, 0xE8, 0x38]])


def test_see_through_mesh_lets_the_mesh_behind_through() -> None:
    red, front = sphere(15, (0, 20, 0)), sphere(20, (0, -30, 0))

    def middle(opacity: float) -> np.ndarray:
        scene = plain_scene(Shown(red, (0.9, 0.05, 0.05)), Shown(front, (0.1, 0.1, 0.9), opacity=opacity))
        return render(scene, framed("front", front.vertices, (80, 80), True), (80, 80))[40, 40].astype(int)

    assert middle(1.0)[2] > middle(1.0)[0]
    assert middle(0.2)[0] > middle(0.2)[2]


def test_screen_curve_is_that_of_the_standard() -> None:
    # IEC 61966-2-1: 0.5 on screen is 0.21404 linear (worked value, from memory); the pair are inverses.
    assert to_linear(np.array(0.5)) == pytest.approx(0.21404, abs=1e-5)
    values = np.linspace(0, 1, 50)
    assert np.allclose(to_srgb(to_linear(values)), values, atol=1e-6)


def test_scale_bar_has_the_length_it_says() -> None:
    mesh = sphere(40)
    camera = framed("front", mesh.vertices, (800, 600), orthographic=True)
    picture = render(Scene((Shown(mesh, BODY),), background=PLAIN), camera).astype(int)
    row = picture[600 - 22].sum(axis=1)
    dark = np.flatnonzero(row[:300] < 300)
    length_mm = nice_length(0.22 * 800 * camera.height_mm / 600)
    assert length_mm == 20.0
    assert np.ptp(dark) * camera.height_mm / 600 == pytest.approx(length_mm, abs=0.6)  # line ends are 2 px


@pytest.mark.parametrize(("longest", "nice"), [(1.0, 1.0), (4.99, 2.0), (73.0, 50.0), (0.31, 0.2)])
def test_nice_lengths(longest: float, nice: float) -> None:
    assert nice_length(longest) == pytest.approx(nice)


def test_words_are_drawn_where_they_belong() -> None:
    mesh = sphere(20)
    camera = framed("front", mesh.vertices, (400, 300))
    bare = render(plain_scene(Shown(mesh, BODY)), camera, (400, 300)).astype(int)
    words = Scene(
        (Shown(mesh, BODY),),
        title="Front",
        labels=(Label((-20.0, 0, 0), "left point"),),
        legend=Legend("Gap", "mm", 0, 1, limits=(("limit", 0.4),)),
        background=PLAIN,
    )
    changed = np.abs(render(words, camera, (400, 300)).astype(int) - bare).max(axis=2) > 60
    assert changed[:20, :60].any() and changed[60:230, 340:].any() and changed[270:, :100].any()
    column, row = camera.project(np.array([[-20.0, 0, 0]]), (400, 300))[0, :2].round().astype(int)
    assert changed[row - 2 : row + 3, column - 3 : column + 2].any()


def test_tube_and_ball_have_their_size() -> None:
    angle = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    ring = np.stack([30 * np.cos(angle), 20 * np.sin(angle), 5 * np.sin(2 * angle)], axis=1)
    made = line_tube(ring, 0.8, sides=16)
    checked = trimesh.Trimesh(made.vertices, made.faces)
    assert checked.is_watertight
    length = np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1).sum()
    # A 16-sided tube has 97.45 % of the round section; bends change the length inside by under 1 %.
    assert checked.volume == pytest.approx(np.pi * 0.64 * length * 0.9745, rel=0.01)
    round_ = ball(np.array([1.0, 2, 3]), 2.0)
    assert np.allclose(np.linalg.norm(round_.vertices - [1, 2, 3], axis=1), 2.0) and round_.volume > 0


def test_same_scene_gives_the_same_bytes_and_reads_back() -> None:
    scene = Scene((Shown(shell(), HOLDER, opacity=0.5), Shown(sphere(10), LINE)), title="Twice")
    camera = framed("three-quarter", scene.points, (200, 150))
    first, second = (render(scene, camera, (200, 150)) for _ in range(2))
    data = png_bytes(first)
    assert data == png_bytes(second)
    assert np.array_equal(np.asarray(Image.open(io.BytesIO(data))), first)
    assert first.shape == (150, 200, 3) and first.dtype == np.uint8
