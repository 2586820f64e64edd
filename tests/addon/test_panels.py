"""Panels: every one draws without a traceback in every state, and every recipe value is in one."""

from __future__ import annotations

import bpy
import pytest
from scenes import add_head

# the scan's unit is set for the wearer (with the scene's own scale as a choice), not in the recipe
NOT_SHOWN = {"scan.unit"}


class Recorder:
    """Stands in for a layout: remembers the properties and operators that were drawn."""

    def __init__(self, props=None, operators=None):
        self.props = set() if props is None else props
        self.operators = set() if operators is None else operators

    def prop(self, owner, name, **_):
        getattr(owner, name)
        self.props.add((type(owner).__name__, name))

    def operator(self, name, **_):
        module, _, function = name.partition(".")
        getattr(getattr(bpy.ops, module), function).get_rna_type()
        self.operators.add(name)
        return self

    def operator_menu_enum(self, name, _property, **_kw):
        return self.operator(name)

    def panel(self, _name, **_):
        return self, self

    def label(self, **_):
        pass

    def progress(self, **_):
        pass

    def context_pointer_set(self, _name, _data):
        pass

    def popover(self, name, **_):
        assert hasattr(bpy.types, name)

    def separator(self, **_):
        pass

    def template_list(self, *_, **__):
        pass

    def row(self, **_):
        return self

    column = box = split = row


def draw_all(ext) -> Recorder:
    recorder = Recorder()
    for part in ext("ui.steps").PARTS:
        part().content(recorder, bpy.context)
    next_panel = ext("ui.header").SEALWRIGHT_PT_next
    next_panel.content(None, recorder, bpy.context)
    return recorder


def wearer():
    return bpy.context.scene.sealwright.wearers[0]


def test_empty_file(ext):
    assert "sealwright.take_scan" in draw_all(ext).operators


def test_every_state(ext):
    bpy.context.scene.unit_settings.scale_length = 0.001
    add_head()
    for step in ("take_scan", "find_face", "lay_seal_line", "preview_body", "build_parts"):
        getattr(bpy.ops.sealwright, step)()
        draw_all(ext)
    wearer().recipe.ports[0].connection.bore_mm = 45.0
    with pytest.raises(RuntimeError):
        bpy.ops.sealwright.build_parts()
    assert "sealwright.show_place" in draw_all(ext).operators
    ext("view.messages").window_state(bpy.context).job_title = "Working"
    draw_all(ext)
    ext("view.messages").window_state(bpy.context).job_title = ""


def test_a_refusal_has_the_button_that_mends_it(ext):
    """A head of 250 units, taken for metres, is 250 m long: what stands in the box brings it back."""
    bpy.context.scene.unit_settings.scale_length = 0.001
    head = add_head()
    bpy.ops.sealwright.take_scan()
    wearer().unit = "M"
    longest = max(head.dimensions)
    with pytest.raises(RuntimeError, match=f"{longest:.0f} m long"):
        bpy.ops.sealwright.find_face()
    box = Recorder()
    ext("ui.header").SEALWRIGHT_PT_next.content(None, box, bpy.context)
    assert "sealwright.use_fitting_unit" in box.operators
    bpy.ops.sealwright.use_fitting_unit()
    assert bpy.ops.sealwright.find_face() == {"FINISHED"}
    box = Recorder()
    ext("ui.header").SEALWRIGHT_PT_next.content(None, box, bpy.context)
    assert "sealwright.use_fitting_unit" not in box.operators


def test_every_recipe_value_is_in_a_panel(ext):
    bpy.ops.sealwright.add_wearer()
    shown = set()
    connection = wearer().recipe.ports[0].connection
    port, lug = wearer().recipe.fittings.add(), wearer().recipe.fittings.add()
    port.kind, lug.kind = "port", "lug"
    wearer().recipe.shell.holes.add()
    wearer().recipe.shell.slots.add()
    kinds = [item.identifier for item in connection.bl_rna.properties["kind"].enum_items]
    seals = [item.identifier for item in connection.bl_rna.properties["seal"].enum_items]
    for kind in kinds:
        for seal in seals:
            connection.kind, connection.seal = kind, seal
            port.connection.kind, port.connection.seal = kind, seal
            for body in ("body", "tube", "shell", "trim"):
                wearer().recipe.kind = body
                shown |= draw_all(ext).props
    switch_off_automatic(wearer().recipe, ext("model.props").read_fields(), ext("model.props").auto_name)
    for kind in kinds:
        connection.kind = port.connection.kind = kind
        for wearer().recipe.kind in ("body", "trim"):
            shown |= draw_all(ext).props
    for body in ("body", "tube", "shell"):
        wearer().recipe.kind = body
        shown |= draw_all(ext).props
    missing = {
        key
        for key, owner, name in leaves(wearer().recipe, ext("model.props").read_fields())
        if (owner, name) not in shown
    }
    assert missing - NOT_SHOWN == set()


def switch_off_automatic(group, fields, auto_name):
    """An automatic number shows its checkbox alone."""
    for field in fields:
        if field["kind"] == "section":
            switch_off_automatic(getattr(group, field["name"]), field["fields"], auto_name)
        elif field["kind"] == "sections":
            for item in getattr(group, field["name"]):
                switch_off_automatic(item, field["fields"], auto_name)
        elif auto_name(field):
            setattr(group, auto_name(field), False)


def leaves(group, fields, path=""):
    """Dotted key, class and name of every value."""
    for field in fields:
        key, kind = f"{path}{field['name']}", field["kind"]
        if kind == "section":
            yield from leaves(getattr(group, field["name"]), field["fields"], key + ".")
        elif kind == "sections":
            for item in list(getattr(group, field["name"]))[:1]:
                yield from leaves(item, field["fields"], key + ".")
        elif kind != "points":
            yield key, type(group).__name__, field["name"]
