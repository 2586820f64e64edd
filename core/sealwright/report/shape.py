"""The types of fit-report.json as it is read; made by ``tools/report_types.py``."""

from __future__ import annotations

from typing import NotRequired, TypedDict

from ..plain_data import JsonObject


class ReportIdentity(TypedDict):
    """Whose design this is; null where no file was read."""

    wearer: str
    scan_name: str
    scan_sha256: str
    options_sha256: str
    recipe_sha256: str
    version: str
    date: str
    design_id: str


class ReportCautions(TypedDict):
    """Cautions, to be shown before anything else."""

    key: str
    text: str
    basis: str
    confidence: str


class ReportSummary(TypedDict):
    """All verdicts in one."""

    verdict: str
    headline: str
    failed: int
    warned: int
    passed: int
    do_first: list[str]
    common: list[str]


class ReportVerdicts(TypedDict):
    """Numbers held against their limits."""

    key: str
    topic: str
    verdict: str
    value: float | None
    value_text: str
    unit: str
    limit: float | None
    limit_text: str
    reason: str
    fix: str
    source: str
    confidence: str
    common: str


class ReportRemarks(TypedDict):
    """What stages found worth saying, in the order of the work."""

    level: str
    text: str
    role: str
    key: str
    point_mm: list[float] | None
    frame: str


class ReportScan(TypedDict):
    """Where the skin comes from and how far it can be trusted."""

    unit: str
    mm_per_unit: float
    reference_distortion: float | None
    reference_distortion_error: float | None
    reference_flatness_mm: float | None
    wearer_scale: float
    triangles: int
    face_size: float
    noise_mm: float
    smoothing_bound_mm: float
    smoothing_largest_mm: float
    guessed_share: float
    guessed_share_under_band: float | None
    band_to_scan_p95_mm: float | None
    band_to_scan_max_mm: float | None


class ReportLandmarksEach(TypedDict):
    """One landmark."""

    point_mm: list[float]
    confidence: float


class ReportSizingMeasuresEach(TypedDict):
    """One dimension."""

    value_mm: float | None
    error_mm: float | None
    confidence: float
    percentile: dict[str, float]
    table_confidence: str
    source: str
    note: str


class ReportSizing(TypedDict):
    """The wearer among others; null when sellion or menton is missing."""

    cell: int | None
    cell_chances: dict[str, float]
    confidence: float
    text: str
    measures: dict[str, ReportSizingMeasuresEach]


class ReportSealLine(TypedDict):
    """Closed curve on the skin along which the body seals; null for a tube."""

    length_mm: float
    stations: int
    spacing_mm: float
    under_chin: bool
    control_points_mm: list[list[float]]


class ReportTrustSectors(TypedDict):
    """One for each sector of the seal line, from the nose towards the wearer's left."""

    sector: str
    verdict: str
    reason: str
    fix: str
    from_mm: float
    to_mm: float
    point_mm: list[float]
    noise_mm: float
    roughness_mm: float
    spacing_mm: float
    guessed_share: float
    border_mm: float | None
    steep_share: float
    doubled_share: float
    repaired: int


class ReportTrust(TypedDict):
    """How far the scanned skin under the contact band can be trusted; null for a tube."""

    verdict: str
    smooth_skin_mm: float
    sectors: list[ReportTrustSectors]


class ReportContact(TypedDict):
    """How the finished body lies on the prepared skin; null for tubes and previews."""

    wanted_gap_mm: float
    wanted_width_mm: float
    touch_mm: float
    cushion_reach_mm: float
    share: float
    band_width_min_mm: float
    band_width_mean_mm: float
    gap_min_mm: float
    gap_p5_mm: float
    gap_median_mm: float
    gap_p95_mm: float
    gap_max_mm: float


class ReportCushionPatternPieces(TypedDict):
    """Pieces in the order of the seal line."""

    name: str
    joints: list[str]
    area_mm2: float
    length_mm: float
    size_mm: list[float]


class ReportCushionPattern(TypedDict):
    """Cut pattern of a foam strip; null for other kinds and in a preview."""

    area_mm2: float
    band_area_mm2: float
    length_mm: float
    band_length_mm: float
    stretch_p95: float
    stretch_max: float
    pieces: list[ReportCushionPatternPieces]


class ReportCushionMouldHalvesEachSoundness(TypedDict):
    """Whether it is a sound solid."""

    role: str
    triangles: int
    pieces: int
    open_edges: int
    crowded_edges: int
    turned_edges: int
    pinched_corners: int
    thin_triangles: int
    crossings: int
    volume_mm3: float
    genus: int | None
    expected_genus: int | None
    places_mm: list[list[float]]
    problems: list[str]
    sound: bool


class ReportCushionMouldHalvesEach(TypedDict):
    """One half."""

    size_mm: list[float]
    volume_ml: float
    soundness: ReportCushionMouldHalvesEachSoundness


class ReportCushionMould(TypedDict):
    """Mould of a cast lip; null for other kinds and in a preview."""

    poured_ml: float
    vents: int
    halves: dict[str, ReportCushionMouldHalvesEach]


class ReportCushion(TypedDict):
    """The soft layer between hard band and skin; null without one."""

    kind: str
    kind_name: str
    material: str
    material_name: str
    thickness_mm: float
    seated_mm: float
    modulus_kpa: float
    poisson: float
    modulus_source: str
    modulus_confidence: str
    compression_set_percent: float
    skin_note: str
    volume_ml: float | None
    mass_g: float | None
    pattern: ReportCushionPattern | None
    mould: ReportCushionMould | None
    groove_depth_mm: float | None
    eased_mm: float | None
    steps: list[str]


class ReportContactSurfaceEven(TypedDict):
    """The even surface, as a sketch under its own straps; null where none was worn."""

    pull_n: float
    worst_cm2_kpa: float
    worst_cm2_error_kpa: float
    pressure_p95_kpa: float
    pressure_p95_error_kpa: float
    share_reaching_100: float
    share_reaching_100_error: float
    share_holding: float
    share_holding_error: float
    layer_over_springs: float | None
    layer_peak_kpa: float | None


class ReportContactSurfaceBest(TypedDict):
    """Likewise the best shaped one that was found, kept or not; null without any."""

    pull_n: float
    worst_cm2_kpa: float
    worst_cm2_error_kpa: float
    pressure_p95_kpa: float
    pressure_p95_error_kpa: float
    share_reaching_100: float
    share_reaching_100_error: float
    share_holding: float
    share_holding_error: float
    layer_over_springs: float | None
    layer_peak_kpa: float | None


class ReportContactSurfaceSectors(TypedDict):
    """Offsets by sector of the seal line; none for an even surface."""

    sector: str
    mean_mm: float
    least_mm: float
    most_mm: float


class ReportContactSurface(TypedDict):
    """What came of shaping the contact surface for even pressure; null where the recipe does ..."""

    outcome: str
    shaped: bool
    told: str
    part: float | None
    held_back: str | None
    draws: int
    even: ReportContactSurfaceEven | None
    best: ReportContactSurfaceBest | None
    followed_p95_mm: float | None
    steepest_mm_per_cm: float | None
    sectors: list[ReportContactSurfaceSectors]


class ReportContactFaceAdviceRanges(TypedDict):
    """The ranges, from the bed to the top."""

    from_mm: float
    to_mm: float
    layer_mm: float
    layers: int
    cusp_mm: float | None


class ReportContactFaceAdvice(TypedDict):
    """Layers by height over the bed that keep the limit; null where the print was not planned."""

    ranges: list[ReportContactFaceAdviceRanges]
    layers: int
    more_layers: int
    time_min: float
    more_time_min: float
    cusp_p95_mm: float
    over_share: float


class ReportContactFace(TypedDict):
    """Steps of the layers on the printed face that touches the skin; null of what has no ..."""

    part: str
    covered: bool
    layer_mm: float
    coating_mm: float
    up: list[float]
    level_share: float
    cusp_median_mm: float
    cusp_p95_mm: float
    cusp_max_mm: float
    over_share: float
    tread_median_mm: float
    coated_p95_mm: float
    advice: ReportContactFaceAdvice | None


class ReportClearance(TypedDict):
    """Room to the face."""

    wanted_mm: float | None
    nose_lips_mm: float | None
    entry_mm: float | None


class ReportWall(TypedDict):
    """Thickness of the chamber wall outside bosses and lugs; null for tubes and previews."""

    wanted_mm: float
    min_mm: float
    mean_mm: float
    max_mm: float
    within_10_percent_share: float
    fairing_residual_mm: float | None
    port_front_mm: float
    overhang_limited_mm2: float
    overhang_free_mm2: float


class ReportOwnShapeLines(TypedDict):
    """Outline and holes of a shell; where a model meets the skin, and the edges of its band."""

    role: str
    length_mm: float
    rounded_mm: float
    edge_width_mm: float


class ReportOwnShapeFittings(TypedDict):
    """Ports and strap lugs that stand on it; parts and threads of the ports are under hardware."""

    role: str
    place_mm: list[float]
    wall_mm: float
    bore_mm: NotRequired[float]
    tube_mm: NotRequired[float]
    surface_mm: NotRequired[float]
    in_hollow_mm: NotRequired[float]


class ReportOwnShapeThickness(TypedDict):
    """Thickness of a shell away from its edges: nearest distances from its outer side and back; ..."""

    wanted_mm: float
    min_mm: float
    mean_mm: float
    max_mm: float
    within_10_percent_share: float


class ReportOwnShape(TypedDict):
    """A shape of the maker's own; missing for a mask or a tube."""

    on_skin_mm2: float
    touching_share: float
    gap_max_mm: float
    lines: list[ReportOwnShapeLines]
    fittings: list[ReportOwnShapeFittings]
    thickness: NotRequired[ReportOwnShapeThickness]


class ReportVolumes(TypedDict):
    """Volumes."""

    parts_mm3: dict[str, float]
    chamber_ml: float | None


class ReportMassesPartsEach(TypedDict):
    """One part."""

    material: str
    mass_g: float


class ReportMassesMaterialsEach(TypedDict):
    """One material."""

    density_g_cm3: float
    confidence: str
    source: str
    mass_g: float


class ReportMasses(TypedDict):
    """Masses printed solid."""

    parts: dict[str, ReportMassesPartsEach]
    materials: dict[str, ReportMassesMaterialsEach]
    total_g: float


class ReportHang(TypedDict):
    """What hangs on the face, head upright: the sum of prediction.hanging.parts; null without parts."""

    mass_g: float
    centre_of_mass: list[float]
    moment_nose_bridge_nmm: float
    sight_below_deg: float | None


class ReportFilterAtFlows(TypedDict):
    """At the flows of the standards."""

    flow_l_min: float
    face_velocity_cm_s: float
    medium_drop_pa: float


class ReportFilter(TypedDict):
    """The medium in the holder; null without a holder."""

    medium: str
    name: str
    shape: str
    length_mm: float
    width_mm: float
    area_cm2: float
    resistance_pa_s_m: float
    resistance_low_pa_s_m: float
    resistance_high_pa_s_m: float
    confidence: str
    source: str
    efficiency_note: str
    sheds_fibres: bool
    at_flows: list[ReportFilterAtFlows]


class ReportBreathingResistance(TypedDict):
    """Pressure between mask and outside at constant flow."""

    phase: str
    flow_l_min: float
    medium_pa: float
    port_pa: float
    valve_pa: float
    total_pa: float
    total_low_pa: float
    total_high_pa: float


class ReportBreathingLimits(TypedDict):
    """Published limits, each with the prediction for its own scope."""

    name: str
    phase: str
    scope: str
    flow_l_min: float
    value_pa: float
    low_pa: float
    high_pa: float
    limit_pa: float
    kept: bool
    confidence: str
    source: str


class ReportBreathingCarbonDioxide(TypedDict):
    """Mean carbon dioxide of the inhaled air, estimates."""

    breath: str
    tidal_l: float
    rate_per_min: float
    inhaled_percent: float
    low_percent: float
    high_percent: float
    limit_percent: float
    kept: bool


class ReportBreathing(TypedDict):
    """Resistance and rebreathed air; null without a holder."""

    narrowest_bore_mm: float
    valve_bore_mm: float
    dead_space_ml: float
    dead_space_chamber_ml: float
    dead_space_port_ml: float
    dead_space_holder_ml: float
    dead_space_valve_ml: float
    resistance: list[ReportBreathingResistance]
    limits: list[ReportBreathingLimits]
    carbon_dioxide: list[ReportBreathingCarbonDioxide]
    carbon_dioxide_confidence: str
    carbon_dioxide_source: str
    assumptions: list[str]


class ReportPartsEachSoundness(TypedDict):
    """Whether it is a sound solid."""

    role: str
    triangles: int
    pieces: int
    open_edges: int
    crowded_edges: int
    turned_edges: int
    pinched_corners: int
    thin_triangles: int
    crossings: int
    volume_mm3: float
    genus: int | None
    expected_genus: int | None
    places_mm: list[list[float]]
    problems: list[str]
    sound: bool


class ReportPartsEach(TypedDict):
    """One part."""

    triangles: int
    vertices: int
    bounding_box_mm: list[list[float]]
    size_mm: list[float]
    area_mm2: float
    in_place: bool
    soundness: ReportPartsEachSoundness


class ReportAssemblyPairs(TypedDict):
    """Two parts that meet on purpose, or share room without."""

    part: str
    other: str
    how: str
    overlap_mm3: float
    depth_mm: float
    depth_stated_mm: float
    play_mm: float | None
    play_stated_mm: float | None
    way_overlap_mm3: float | None
    way_depth_mm: float | None
    way_depth_stated_mm: float | None
    way_travel_mm: float | None
    way_positions: int
    fault: str


class ReportAssembly(TypedDict):
    """All parts put together as made; null where that was not looked at."""

    pairs: list[ReportAssemblyPairs]
    free_pairs: int


class ReportHardwarePorts(TypedDict):
    """One port."""

    port_kind: NotRequired[str]
    thread: NotRequired[str]
    thread_form: NotRequired[str]
    thread_source: NotRequired[str]
    major_diameter_mm: NotRequired[float]
    pitch_mm: NotRequired[float]
    starts: NotRequired[int]
    lead_mm: NotRequired[float]
    pitch_diameter_mm: NotRequired[float]
    male_root_diameter_mm: NotRequired[float]
    female_minor_diameter_mm: NotRequired[float]
    female_major_diameter_mm: NotRequired[float]
    thread_overlap_mm: NotRequired[float]
    lead_angle_deg: NotRequired[float]
    flank_overhang_deg: NotRequired[float]
    thread_length_mm: NotRequired[float]
    thread_turns: NotRequired[float]
    port_length_mm: NotRequired[float]
    bore_diameter_mm: NotRequired[float]
    wall_under_thread_mm: NotRequired[float]
    front_face_width_mm: NotRequired[float]
    facet_error_mm: NotRequired[float]
    seal: NotRequired[str]
    cap_land_z_mm: NotRequired[float]
    ring: NotRequired[str]
    ring_inside_mm: NotRequired[float]
    ring_section_mm: NotRequired[float]
    ring_stretched_section_mm: NotRequired[float]
    ring_size_confidence: NotRequired[str]
    gland_inside_diameter_mm: NotRequired[float]
    gland_outside_diameter_mm: NotRequired[float]
    gland_side: NotRequired[str]
    gland_width_mm: NotRequired[float]
    gland_depth_mm: NotRequired[float]
    ring_squeeze_percent: NotRequired[float]
    gland_fill_percent: NotRequired[float]
    ring_stretch_percent: NotRequired[float]
    gland_inner_land_mm: NotRequired[float]
    gland_outer_land_mm: NotRequired[float]
    gland_bridge_mm: NotRequired[float]
    soft_ring_inner_diameter_mm: NotRequired[float]
    soft_ring_outer_diameter_mm: NotRequired[float]
    soft_ring_proud_mm: NotRequired[float]
    soft_ring_root_depth_mm: NotRequired[float]
    soft_ring_root_neck_mm: NotRequired[float]
    soft_ring_root_base_mm: NotRequired[float]
    soft_ring_undercut_deg: NotRequired[float]
    soft_ring_volume_mm3: NotRequired[float]
    soft_ring_squeeze_percent: NotRequired[float]
    soft_material: NotRequired[str]
    gasket_thickness_mm: NotRequired[float]
    gasket_seat_inner_diameter_mm: NotRequired[float]
    gasket_seat_outer_diameter_mm: NotRequired[float]
    unsupported_seat_width_mm: NotRequired[float]
    cone_size: NotRequired[str]
    cone_gender: NotRequired[str]
    cone_gauge_diameter_mm: NotRequired[float]
    cone_gauge_confidence: NotRequired[str]
    cone_half_angle_deg: NotRequired[float]
    cone_gauge_plane_z_mm: NotRequired[float]
    cone_tip_diameter_mm: NotRequired[float]
    cone_base_diameter_mm: NotRequired[float]
    cone_tip_wall_mm: NotRequired[float]
    socket_mouth_diameter_mm: NotRequired[float]
    socket_bottom_diameter_mm: NotRequired[float]
    socket_depth_mm: NotRequired[float]
    tube_outer_diameter_mm: NotRequired[float]
    flap_diameter_mm: NotRequired[float]
    valve_seat_inner_diameter_mm: NotRequired[float]
    valve_seat_outer_diameter_mm: NotRequired[float]
    valve_seat_area_mm2: NotRequired[float]
    valve_seat_flatness_wanted_mm: NotRequired[float]
    valve_seat_plane_z_mm: NotRequired[float]
    valve_flap_overlap_mm: NotRequired[float]
    valve_open_area_mm2: NotRequired[float]
    valve_lift_area_mm2: NotRequired[float]
    valve_preload_dome_mm: NotRequired[float]
    valve_spoke_bridge_mm: NotRequired[float]
    valve_ring: NotRequired[str]
    valve_ring_inside_mm: NotRequired[float]
    valve_ring_section_mm: NotRequired[float]
    valve_ring_squeeze_percent: NotRequired[float]
    valve_socket_diameter_mm: NotRequired[float]
    valve_spigot_diameter_mm: NotRequired[float]
    valve_spigot_length_mm: NotRequired[float]


class ReportHardwareHolder(TypedDict):
    """The holder; empty without one."""

    holder_shape: NotRequired[str]
    medium_length_mm: NotRequired[float]
    medium_width_mm: NotRequired[float]
    seat_open_area_mm2: NotRequired[float]
    grid_open_share: NotRequired[float]
    grid_largest_opening_mm: NotRequired[float]
    grid_thumb_force_n: NotRequired[float]
    grid_stress_mpa: NotRequired[float]
    grid_safety_factor: NotRequired[float]
    air_passage_mm2: NotRequired[float]
    holder_height_mm: NotRequired[float]
    holder_solid_volume_mm3: NotRequired[float]
    holder_mass_solid_g: NotRequired[float]
    cap_outer_diameter_mm: NotRequired[float]
    thread_engaged_turns: NotRequired[float]
    holder_print_pose: NotRequired[str]
    clearance_on_diameter_mm: NotRequired[float]
    gap_per_side_mm: NotRequired[float]
    coating_mm: NotRequired[float]
    shrinkage_percent: NotRequired[list[float]]
    print_scale: NotRequired[list[float]]
    medium: NotRequired[str]
    medium_confidence: NotRequired[str]
    medium_resistance_pa_s_m: NotRequired[float]
    medium_area_cm2: NotRequired[float]
    face_velocity_at_30_l_min_cm_s: NotRequired[float]
    face_velocity_at_85_l_min_cm_s: NotRequired[float]
    face_velocity_at_95_l_min_cm_s: NotRequired[float]
    medium_drop_at_30_l_min_pa: NotRequired[float]
    medium_drop_at_85_l_min_pa: NotRequired[float]
    medium_drop_at_95_l_min_pa: NotRequired[float]
    holder_air_mm3: NotRequired[float]
    glue_volume_mm3: NotRequired[float]
    edge_seal: NotRequired[str]
    medium_squeeze_mm: NotRequired[float]
    medium_ridge_mm: NotRequired[float]
    prefilter_inset_mm: NotRequired[float]
    prefilter_thickness_mm: NotRequired[float]
    retainer_play_mm: NotRequired[float]
    retainer_preload_n: NotRequired[float]
    snap_finger_length_mm: NotRequired[float]
    snap_finger_strain_percent: NotRequired[float]


class ReportHardwareLug(TypedDict):
    """A strap lug; empty without lugs."""

    lug_pull_n: NotRequired[float]
    lug_slot_length_mm: NotRequired[float]
    lug_slot_opening_mm: NotRequired[float]
    lug_bar_height_mm: NotRequired[float]
    lug_bar_width_mm: NotRequired[float]
    lug_fin_thickness_mm: NotRequired[float]
    lug_edge_radius_mm: NotRequired[float]
    lug_wall_lean_deg: NotRequired[float]
    lug_off_body_mm: NotRequired[float]
    lug_height_in_print_mm: NotRequired[float]
    lug_bar_stress_mpa: NotRequired[float]
    lug_fin_stress_mpa: NotRequired[float]
    lug_strength_across_layers_mpa: NotRequired[float]
    lug_safety_factor: NotRequired[float]
    lug_bears_n: NotRequired[float]
    lug_bridge_mm: NotRequired[float]


class ReportHardware(TypedDict):
    """Facts of port, holder and lugs."""

    ports: list[ReportHardwarePorts]
    holder: ReportHardwareHolder
    lug: ReportHardwareLug


class ReportPrintingPartsEachTouchUp(TypedDict):
    """What to look after by hand."""

    what: str
    kind: str
    layer: int
    point_mm: list[float]


class ReportPrintingPartsEach(TypedDict):
    """Plan of one part."""

    material: str
    layers: int
    layer_mm: float
    up: list[float]
    size_mm: list[float]
    fits_bed: bool
    turn_on_bed_deg: float
    volume_mm3: float
    slice_error_percent: float
    mass_g: float
    time_min: float
    cost_money: float
    support_free: bool
    overhang_mm2: float
    islands: int
    bridges: int
    longest_bridge_mm: float
    ledges: int
    longest_ledge_mm: float
    thinnest_wall_mm: float
    thinnest_wall_is_bound: bool
    shrink_percent: list[float]
    print_scale: list[float]
    coating_mm: float
    allowance_source: str
    touch_up: list[ReportPrintingPartsEachTouchUp]
    assumptions: list[str]
    ribs_mass_g: float


class ReportPrintingMaterialChangesChanges(TypedDict):
    """The changes by rising layer."""

    layer: int
    z_mm: float
    material: str


class ReportPrintingMaterialChanges(TypedDict):
    """A soft ring printed in place, with the layers at which the material changes; also in ..."""

    ring: str
    body: str
    soft_material: str
    rigid_material: str
    layers: int
    layer_mm: float
    first_layer_mm: float
    level: bool
    changes: list[ReportPrintingMaterialChangesChanges]


class ReportPrinting(TypedDict):
    """Print plans; null when none was made."""

    parts: dict[str, ReportPrintingPartsEach]
    material_changes: list[ReportPrintingMaterialChanges]
    total_mass_g: float
    total_time_min: float
    total_cost_money: float


class ReportWaysUp(TypedDict):
    """One way up."""

    way: str
    chosen: bool
    up: list[float]
    exact: bool
    refused: str
    height_mm: float
    layers: int
    overhang_mm2: float
    bed_mm2: float
    time_min: float
    ribs_g: float
    supports: str
    cusp_median_mm: float
    cusp_p95_mm: float
    scarred_share: float
    port_front_mm: float | None
    chamber_ml: float | None
    moment_nmm: float | None
    told: str


class ReportPredictionSummary(TypedDict):
    """The line of numbers by which designs are compared, over the draws; null without hold."""

    pressure_p95_kpa: float
    share_reaching_100: float
    share_holding: float
    share_staying: float
    hours_low: float
    hours_typical: float
    hours_high: float
    strap_pull_n: float
    pressure_p95_error_kpa: float
    share_reaching_100_error: float
    share_holding_error: float
    hours_low_error: float


class ReportPredictionHangingParts(TypedDict):
    """Every part."""

    part: str
    mass_g: float
    centre_mm: list[float]
    taken_from: str


class ReportPredictionHanging(TypedDict):
    """What hangs on the straps."""

    mass_g: float
    weight_n: float
    centre_mm: list[float]
    lever_mm: float
    moment_nmm: float
    parts: list[ReportPredictionHangingParts]


class ReportPredictionPositions(TypedDict):
    """How the mask holds while breathing out, by head position, over the draws."""

    position: str
    share_holding: float
    share_staying: float
    line_held_median: float
    line_held_low: float
    line_touching_median: float


class ReportPredictionContact(TypedDict):
    """Balance of the rigid mask on elastic skin."""

    pull_n: float
    contact_n: float
    contact_cm2: float
    share_closed: float
    share_held: float
    held_against_pa: float
    peak_kpa: float
    peak_point_mm: list[float]
    mean_kpa: float
    peak_low_kpa: float | None
    peak_high_kpa: float | None
    mean_low_kpa: float | None
    mean_high_kpa: float | None
    share_closed_low: float | None
    share_closed_high: float | None
    share_held_low: float | None
    share_held_high: float | None
    largest_skin_strain: float
    shift_mm: list[float]
    turn_deg: list[float]
    balance_residual: float


class ReportPredictionFitFactorQuantiles(TypedDict):
    """Fit factors that a share of plausible cases stays below."""

    p5: float
    p25: float
    p50: float
    p75: float
    p95: float


class ReportPredictionFitFactorQuantileErrors(TypedDict):
    """What the number of draws leaves unsure in each quantile."""

    p5: float
    p25: float
    p50: float
    p75: float
    p95: float


class ReportPredictionFitFactorTotalQuantiles(TypedDict):
    """The same with what the filter lets through: total protection, not what a fit test judges."""

    p5: float
    p25: float
    p50: float
    p75: float
    p95: float


class ReportPredictionFitFactor(TypedDict):
    """Range of the fit factor of the seal alone, filter taken as perfect."""

    quantiles: ReportPredictionFitFactorQuantiles
    quantile_errors: ReportPredictionFitFactorQuantileErrors
    total_quantiles: ReportPredictionFitFactorTotalQuantiles
    exercises: dict[str, float]
    pass_level: float
    chance_pass: float
    chance_error: float
    samples: int
    lost: int
    flow_l_min: float
    region_share: dict[str, float]
    worst_arc_stations: list[int]
    worst_arc_share: float


class ReportPredictionComfortBesideNarrowEdge(TypedDict):
    """The band beside a narrow hard edge on the same face; null where that finds no hold."""

    narrow_mm: float
    narrow_mean_kpa: float
    mean_ratio: float
    peak_ratio: float
    area_ratio: float
    narrow_closed_share: float


class ReportPredictionComfort(TypedDict):
    """How the mask presses."""

    high_kpa: float
    edge_kpa: float
    edge_ratio: float
    over_capillary_share: float
    region_peak_kpa: dict[str, float]
    advised_h: float
    advice: str
    beside_narrow_edge: ReportPredictionComfortBesideNarrowEdge | None


class ReportPredictionHoursAnchors(TypedDict):
    """What was published about wearing for hours."""

    finding: str
    confidence: str
    source: str


class ReportPredictionHoursSites(TypedDict):
    """Every bony site under the band."""

    site: str
    kpa_low: float
    kpa_typical: float
    kpa_high: float
    hours_low: float
    hours_high: float


class ReportPredictionHours(TypedDict):
    """How long it may be worn without a break, from the worst square centimetre on bone."""

    low_h: float
    low_error_h: float
    typical_h: float
    high_h: float
    worst_site: str
    text: str
    breaks: str
    anchors: list[ReportPredictionHoursAnchors]
    sites: list[ReportPredictionHoursSites]


class ReportPredictionSites(TypedDict):
    """Mean pressure by site of the skin table."""

    mean_kpa: dict[str, float]
    order_agrees: bool
    order_text: str


class ReportPredictionLayer(TypedDict):
    """Contact in which neighbours hold each other, with edge radii and slip; null for a preview."""

    peak_kpa: float
    p95_kpa: float
    mean_kpa: float
    edge_peak_kpa: float | None
    share_closed: float
    slipping_share: float
    springs_peak_kpa: float
    springs_p95_kpa: float
    balance_residual: float


class ReportPredictionTensionLeastToHold(TypedDict):
    """Least pull of every strap at which the mask holds in every head position in 95 % of the draws."""

    total_n: float | None
    straps_n: list[float]
    scale_kg: list[float]
    share: float
    at_total_n: float


class ReportPredictionTensionLeastToStay(TypedDict):
    """Least pull of every strap at which the mask keeps its place in every head position, ..."""

    total_n: float | None
    straps_n: list[float]
    scale_kg: list[float]
    share: float
    at_total_n: float


class ReportPredictionTension(TypedDict):
    """Strap tensions."""

    straps_n: float
    against_breathing_out_n: float
    least_to_hold: ReportPredictionTensionLeastToHold | None
    least_to_stay: ReportPredictionTensionLeastToStay | None
    how_to_set: list[str]
    to_hold_n: float | None
    to_hold: str
    to_close_n: float | None
    to_close: str
    at_capillary_n: float | None
    at_capillary: str


class ReportPrediction(TypedDict):
    """What is expected on the wearer; null when it was not asked for."""

    caution: str
    refusal: str
    source: str
    weaknesses: list[str]
    assumed: JsonObject
    summary: ReportPredictionSummary | None
    hanging: ReportPredictionHanging | None
    positions: list[ReportPredictionPositions] | None
    contact: ReportPredictionContact | None
    fit_factor: ReportPredictionFitFactor | None
    comfort: ReportPredictionComfort | None
    hours: ReportPredictionHours | None
    sites: ReportPredictionSites | None
    layer: ReportPredictionLayer | None
    tension: ReportPredictionTension | None


class ReportAimsRows(TypedDict):
    """One aim."""

    key: str
    name: str
    value: float
    unit: str
    value_text: str
    limit: float
    limit_text: str
    kept: bool
    against: str


class ReportAims(TypedDict):
    """What a good design of this kind keeps, and what stands in the way where it does not; null ..."""

    about: str
    rows: list[ReportAimsRows]


class ReportTriedRows(TypedDict):
    """The design, then remedies that help, best first, then the bare band."""

    role: str
    what: str
    set: list[str]
    pressure_p95_kpa: float
    share_reaching_100: float
    share_holding: float


class ReportTried(TypedDict):
    """What would change the design, tried on its wearer; null where nothing was tried or the ..."""

    about: str
    told: str
    draws: int
    missed: list[str]
    remedies: int
    rows: list[ReportTriedRows]


class ReportSecondPose(TypedDict):
    """The same body with the face in another pose; null without a second scan."""

    still_rms_mm: float
    covered_share: float
    slide_along_max_mm: float
    slide_across_max_mm: float
    lifted_share: float
    refusal: str
    closed_share: float | None
    largest_lift_mm: float | None
    region_lift_mm: dict[str, float]
    peak_kpa: float | None
    fit_factor_p5: float | None
    fit_factor_p95: float | None
    pass_chance: float | None
    weaknesses: list[str]


class ReportStations(TypedDict):
    """What varies along the seal line; lists of equal length."""

    marks_mm: dict[str, float]
    along_mm: list[float]
    point_mm: list[list[float]]
    noise_mm: list[float | None]
    scanned: list[bool]
    gap_mm: list[float] | None
    width_mm: list[float] | None
    staircase_mm: list[float] | None
    pressure_kpa: list[float] | None
    open_gap_mm: list[float] | None
    leak_share: list[float] | None


class ReportTimings(TypedDict):
    """How long it took; the only part that differs between two runs."""

    steps_s: dict[str, float]
    total_s: float


class FitReport(TypedDict):
    """The whole report."""

    format: str
    title: str
    kind: str
    identity: ReportIdentity | None
    cautions: list[ReportCautions]
    summary: ReportSummary
    verdicts: list[ReportVerdicts]
    remarks: list[ReportRemarks]
    scan: ReportScan
    scan_to_design: list[list[float]]
    landmarks: dict[str, ReportLandmarksEach]
    sizing: ReportSizing | None
    seal_line: ReportSealLine | None
    trust: ReportTrust | None
    contact: ReportContact | None
    cushion: ReportCushion | None
    contact_surface: ReportContactSurface | None
    contact_face: ReportContactFace | None
    clearance: ReportClearance
    wall: ReportWall | None
    own_shape: NotRequired[ReportOwnShape]
    volumes: ReportVolumes
    masses: ReportMasses
    hang: ReportHang | None
    filter: ReportFilter | None
    breathing: ReportBreathing | None
    parts: dict[str, ReportPartsEach]
    assembly: ReportAssembly | None
    hardware: ReportHardware
    printing: ReportPrinting | None
    ways_up: list[ReportWaysUp] | None
    prediction: ReportPrediction | None
    aims: ReportAims | None
    tried: ReportTried | None
    second_pose: ReportSecondPose | None
    stations: ReportStations | None
    recipe: JsonObject
    versions: dict[str, str]
    timings: ReportTimings
