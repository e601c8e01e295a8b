CREATE TABLE act (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    at DATETIME NOT NULL,
    who VARCHAR(200) NOT NULL,
    kind VARCHAR(40) NOT NULL,
    words TEXT NOT NULL,
    revision VARCHAR(40) NOT NULL,
    undone_by INTEGER,
    undoes INTEGER,
    CONSTRAINT fk_act_undone_by FOREIGN KEY(undone_by) REFERENCES act (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_act_undoes FOREIGN KEY(undoes) REFERENCES act (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_act_kind ON act (kind);
CREATE INDEX ix_act_undoes ON act (undoes);
CREATE INDEX ix_act_undone_by ON act (undone_by);
CREATE TABLE act_row (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    act_id INTEGER NOT NULL,
    table_name VARCHAR(40) NOT NULL,
    "key" INTEGER NOT NULL,
    "before" TEXT,
    "after" TEXT,
    CONSTRAINT fk_act_row_act_id FOREIGN KEY(act_id) REFERENCES act (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_act_row_act_id ON act_row (act_id);
CREATE TABLE animal (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    tag VARCHAR(200) NOT NULL,
    tag_key VARCHAR(200) NOT NULL,
    name VARCHAR(200),
    sex VARCHAR(40),
    born DATE,
    born_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    dam_id INTEGER,
    birth_dam_id INTEGER,
    breed VARCHAR(200),
    colour VARCHAR(200),
    horns VARCHAR(40),
    note TEXT,
    care TEXT,
    do_not_breed TEXT,
    freemartin VARCHAR(40),
    calved_before BOOLEAN,
    fit_for_heifers BOOLEAN,
    capacity INTEGER,
    placeholder BOOLEAN,
    CONSTRAINT ck_animal_sex_word CHECK (sex IN ('F', 'M')),
    CONSTRAINT ck_animal_born_precision_word CHECK (born_precision IN ('day', 'month', 'year', 'before')),
    CONSTRAINT fk_animal_dam_id FOREIGN KEY(dam_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_animal_birth_dam_id FOREIGN KEY(birth_dam_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_animal_birth_dam_id ON animal (birth_dam_id);
CREATE INDEX ix_animal_dam_id ON animal (dam_id);
CREATE INDEX ix_animal_listed ON animal (tag_key, tag, name);
CREATE INDEX ix_animal_name ON animal (name);
CREATE INDEX ix_animal_tag ON animal (tag);
CREATE TABLE arrival (
    kind VARCHAR(40) NOT NULL,
    from_party VARCHAR(200),
    price FLOAT,
    medicines_known BOOLEAN NOT NULL,
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT ck_arrival_kind_word CHECK (kind IN ('bought', 'hired', 'returned', 'found', 'other')),
    CONSTRAINT fk_arrival_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_arrival_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_arrival_animal_id ON arrival (animal_id);
CREATE INDEX ix_arrival_day ON arrival (day);
CREATE INDEX ix_arrival_round_id ON arrival (round_id);
CREATE TABLE booked_day (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    kind VARCHAR(40) NOT NULL,
    place VARCHAR(200),
    places INTEGER NOT NULL,
    wanted VARCHAR(200),
    deposit FLOAT,
    note TEXT,
    CONSTRAINT ck_booked_day_kind_word CHECK (kind IN ('butcher', 'abattoir', 'other'))
);
CREATE TABLE booking (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    booked_day_id INTEGER NOT NULL,
    animal_id INTEGER NOT NULL,
    override TEXT,
    note TEXT,
    CONSTRAINT fk_booking_booked_day_id FOREIGN KEY(booked_day_id) REFERENCES booked_day (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_booking_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_booking_animal_id ON booking (animal_id);
CREATE INDEX ix_booking_booked_day_id ON booking (booked_day_id);
CREATE TABLE breed_share (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    animal_id INTEGER NOT NULL,
    breed VARCHAR(40) NOT NULL,
    share FLOAT NOT NULL,
    CONSTRAINT ck_breed_share_share_range CHECK (share > 0 AND share <= 1),
    CONSTRAINT fk_breed_share_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_breed_share_animal_id ON breed_share (animal_id);
CREATE TABLE bull_exam (
    result VARCHAR(40) NOT NULL,
    scrotal_cm FLOAT,
    by_whom VARCHAR(200),
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT ck_bull_exam_result_word CHECK (result IN ('satisfactory', 'deferred', 'unsatisfactory')),
    CONSTRAINT fk_bull_exam_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_bull_exam_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_bull_exam_animal_id ON bull_exam (animal_id);
CREATE INDEX ix_bull_exam_day ON bull_exam (day);
CREATE INDEX ix_bull_exam_round_id ON bull_exam (round_id);
CREATE TABLE bull_run (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    name VARCHAR(200),
    group_id INTEGER,
    plan_id INTEGER,
    note TEXT,
    CONSTRAINT fk_bull_run_group_id FOREIGN KEY(group_id) REFERENCES herd_group (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_bull_run_plan_id FOREIGN KEY(plan_id) REFERENCES season_plan (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_bull_run_group_id ON bull_run (group_id);
CREATE INDEX ix_bull_run_plan_id ON bull_run (plan_id);
CREATE TABLE bull_run_bull (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    run_id INTEGER NOT NULL,
    animal_id INTEGER NOT NULL,
    from_day DATE NOT NULL,
    to_day DATE,
    CONSTRAINT ck_bull_run_bull_order CHECK (to_day IS NULL OR to_day >= from_day),
    CONSTRAINT fk_bull_run_bull_run_id FOREIGN KEY(run_id) REFERENCES bull_run (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_bull_run_bull_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_bull_run_bull_animal_id ON bull_run_bull (animal_id);
CREATE INDEX ix_bull_run_bull_run_id ON bull_run_bull (run_id);
CREATE TABLE bull_run_female (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    run_id INTEGER NOT NULL,
    animal_id INTEGER NOT NULL,
    from_day DATE NOT NULL,
    to_day DATE,
    CONSTRAINT ck_bull_run_female_order CHECK (to_day IS NULL OR to_day >= from_day),
    CONSTRAINT fk_bull_run_female_run_id FOREIGN KEY(run_id) REFERENCES bull_run (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_bull_run_female_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_bull_run_female_animal_id ON bull_run_female (animal_id);
CREATE INDEX ix_bull_run_female_run_id ON bull_run_female (run_id);
CREATE TABLE calendar_sent (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    event VARCHAR(200) NOT NULL,
    day DATE NOT NULL,
    title TEXT NOT NULL,
    details TEXT NOT NULL,
    sequence INTEGER NOT NULL,
    changed DATETIME NOT NULL,
    withdrawn BOOLEAN NOT NULL,
    CONSTRAINT uq_calendar_sent_event UNIQUE (event)
);
CREATE TABLE calving (
    at VARCHAR(40),
    afterbirth VARCHAR(40),
    helped_by VARCHAR(200),
    reason TEXT,
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT ck_calving_afterbirth_word CHECK (afterbirth IN ('came', 'hanging', 'retained')),
    CONSTRAINT fk_calving_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_calving_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_calving_animal_id ON calving (animal_id);
CREATE INDEX ix_calving_day ON calving (day);
CREATE INDEX ix_calving_round_id ON calving (round_id);
CREATE TABLE calving_calf (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    calving_id INTEGER NOT NULL,
    calf_id INTEGER NOT NULL,
    ease INTEGER,
    presentation VARCHAR(40),
    vigour VARCHAR(40),
    fate VARCHAR(40) NOT NULL,
    CONSTRAINT ck_calving_calf_ease_range CHECK (ease BETWEEN 1 AND 5),
    CONSTRAINT ck_calving_calf_fate_word CHECK (fate IN ('alive', 'stillborn', 'died')),
    CONSTRAINT fk_calving_calf_calving_id FOREIGN KEY(calving_id) REFERENCES calving (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_calving_calf_calf_id FOREIGN KEY(calf_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_calving_calf_calf_id ON calving_calf (calf_id);
CREATE INDEX ix_calving_calf_calving_id ON calving_calf (calving_id);
CREATE TABLE castration (
    method VARCHAR(40) NOT NULL,
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_castration_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_castration_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_castration_animal_id ON castration (animal_id);
CREATE INDEX ix_castration_day ON castration (day);
CREATE INDEX ix_castration_round_id ON castration (round_id);
CREATE TABLE condition_seen (
    condition VARCHAR(200) NOT NULL,
    look VARCHAR(40) NOT NULL,
    by_whom VARCHAR(200),
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT ck_condition_seen_look_word CHECK (look IN ('looks_normal', 'looks_carrier', 'looks_affected')),
    CONSTRAINT fk_condition_seen_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_condition_seen_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_condition_seen_animal_id ON condition_seen (animal_id);
CREATE INDEX ix_condition_seen_day ON condition_seen (day);
CREATE INDEX ix_condition_seen_round_id ON condition_seen (round_id);
CREATE TABLE departure (
    kind VARCHAR(40) NOT NULL,
    reason VARCHAR(200),
    to_party VARCHAR(200),
    live_kg FLOAT,
    hanging_kg FLOAT,
    take_home_kg FLOAT,
    price FLOAT,
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT ck_departure_kind_word CHECK (kind IN ('sold', 'slaughtered', 'died', 'destroyed', 'hired_out', 'lost', 'other')),
    CONSTRAINT fk_departure_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_departure_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_departure_animal_id ON departure (animal_id);
CREATE INDEX ix_departure_day ON departure (day);
CREATE INDEX ix_departure_round_id ON departure (round_id);
CREATE TABLE fostering (
    by_id INTEGER,
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_fostering_by_id FOREIGN KEY(by_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_fostering_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_fostering_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_fostering_animal_id ON fostering (animal_id);
CREATE INDEX ix_fostering_by_id ON fostering (by_id);
CREATE INDEX ix_fostering_day ON fostering (day);
CREATE INDEX ix_fostering_round_id ON fostering (round_id);
CREATE TABLE genetic_condition (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" VARCHAR(200) NOT NULL,
    name VARCHAR(200) NOT NULL,
    mode VARCHAR(40) NOT NULL,
    harm VARCHAR(200),
    carriers_show BOOLEAN NOT NULL,
    penetrance FLOAT NOT NULL,
    frequency FLOAT NOT NULL,
    omia VARCHAR(200),
    gene VARCHAR(200),
    note TEXT,
    watched BOOLEAN NOT NULL,
    CONSTRAINT ck_genetic_condition_mode_word CHECK (mode IN ('recessive', 'incomplete', 'dominant')),
    CONSTRAINT ck_genetic_condition_frequency_range CHECK (frequency > 0 AND frequency < 1),
    CONSTRAINT ck_genetic_condition_penetrance_range CHECK (penetrance > 0 AND penetrance <= 1),
    CONSTRAINT uq_genetic_condition_key UNIQUE ("key")
);
CREATE TABLE genetic_test (
    condition VARCHAR(200) NOT NULL,
    genotype VARCHAR(40) NOT NULL,
    laboratory VARCHAR(200),
    certificate VARCHAR(200),
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_genetic_test_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_genetic_test_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_genetic_test_animal_id ON genetic_test (animal_id);
CREATE INDEX ix_genetic_test_day ON genetic_test (day);
CREATE INDEX ix_genetic_test_round_id ON genetic_test (round_id);
CREATE TABLE health_test (
    what VARCHAR(200) NOT NULL,
    read_day DATE,
    result VARCHAR(200),
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_health_test_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_health_test_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_health_test_animal_id ON health_test (animal_id);
CREATE INDEX ix_health_test_day ON health_test (day);
CREATE INDEX ix_health_test_round_id ON health_test (round_id);
CREATE TABLE heat (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_heat_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_heat_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_heat_animal_id ON heat (animal_id);
CREATE INDEX ix_heat_day ON heat (day);
CREATE INDEX ix_heat_round_id ON heat (round_id);
CREATE TABLE height (
    cm FLOAT NOT NULL,
    unit VARCHAR(40) NOT NULL,
    place VARCHAR(40) NOT NULL,
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_height_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_height_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_height_animal_id ON height (animal_id);
CREATE INDEX ix_height_day ON height (day);
CREATE INDEX ix_height_round_id ON height (round_id);
CREATE TABLE herd_group (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    name VARCHAR(200) NOT NULL,
    purpose VARCHAR(40) NOT NULL,
    ended DATE,
    CONSTRAINT ck_herd_group_purpose_word CHECK (purpose IN ('breeding', 'finishing', 'calves', 'young', 'bulls', 'sale', 'other'))
);
CREATE TABLE holding (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    name VARCHAR(200) NOT NULL,
    number VARCHAR(200),
    ours BOOLEAN NOT NULL
);
CREATE TABLE identity (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    animal_id INTEGER NOT NULL,
    scheme VARCHAR(40) NOT NULL,
    value VARCHAR(200) NOT NULL,
    colour VARCHAR(40),
    from_day DATE,
    to_day DATE,
    CONSTRAINT ck_identity_scheme_word CHECK (scheme IN ('farm', 'official', 'electronic', 'registration', 'tattoo')),
    CONSTRAINT fk_identity_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_identity_animal_id ON identity (animal_id);
CREATE INDEX ix_identity_value ON identity (value);
CREATE UNIQUE INDEX uq_identity_unique_number ON identity (scheme, value) WHERE scheme IN ('official', 'electronic');
CREATE TABLE illness (
    what VARCHAR(200) NOT NULL,
    outcome VARCHAR(200),
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_illness_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_illness_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_illness_animal_id ON illness (animal_id);
CREATE INDEX ix_illness_day ON illness (day);
CREATE INDEX ix_illness_round_id ON illness (round_id);
CREATE TABLE loss (
    kind VARCHAR(40) NOT NULL,
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_loss_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_loss_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_loss_animal_id ON loss (animal_id);
CREATE INDEX ix_loss_day ON loss (day);
CREATE INDEX ix_loss_round_id ON loss (round_id);
CREATE TABLE medicine (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    product VARCHAR(200) NOT NULL,
    meat_days FLOAT,
    note TEXT
);
CREATE TABLE medicine_stock (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    medicine_id INTEGER NOT NULL,
    bought DATE NOT NULL,
    quantity VARCHAR(200),
    supplier VARCHAR(200),
    batch VARCHAR(200),
    expires DATE,
    CONSTRAINT fk_medicine_stock_medicine_id FOREIGN KEY(medicine_id) REFERENCES medicine (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_medicine_stock_medicine_id ON medicine_stock (medicine_id);
CREATE TABLE membership (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    animal_id INTEGER NOT NULL,
    group_id INTEGER NOT NULL,
    from_day DATE NOT NULL,
    to_day DATE,
    plan_id INTEGER,
    CONSTRAINT fk_membership_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_membership_group_id FOREIGN KEY(group_id) REFERENCES herd_group (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_membership_plan_id FOREIGN KEY(plan_id) REFERENCES season_plan (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_membership_animal_id ON membership (animal_id);
CREATE INDEX ix_membership_group_id ON membership (group_id);
CREATE INDEX ix_membership_plan_id ON membership (plan_id);
CREATE TABLE ownership (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    animal_id INTEGER NOT NULL,
    party_id INTEGER NOT NULL,
    share FLOAT NOT NULL,
    from_day DATE NOT NULL,
    to_day DATE,
    CONSTRAINT ck_ownership_share_range CHECK (share > 0 AND share <= 1),
    CONSTRAINT fk_ownership_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_ownership_party_id FOREIGN KEY(party_id) REFERENCES party (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_ownership_animal_id ON ownership (animal_id);
CREATE INDEX ix_ownership_party_id ON ownership (party_id);
CREATE TABLE parent_evidence (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    animal_id INTEGER NOT NULL,
    role VARCHAR(40) NOT NULL,
    candidate_id INTEGER NOT NULL,
    kind VARCHAR(40) NOT NULL,
    day DATE,
    note TEXT,
    CONSTRAINT ck_parent_evidence_role_word CHECK (role IN ('sire', 'dam')),
    CONSTRAINT ck_parent_evidence_kind_word CHECK (kind IN ('word', 'dna', 'excluded')),
    CONSTRAINT fk_parent_evidence_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_parent_evidence_candidate_id FOREIGN KEY(candidate_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_parent_evidence_animal_id ON parent_evidence (animal_id);
CREATE INDEX ix_parent_evidence_candidate_id ON parent_evidence (candidate_id);
CREATE TABLE party (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    name VARCHAR(200) NOT NULL,
    kind VARCHAR(40),
    contact TEXT,
    note TEXT
);
CREATE TABLE plan_bull (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    plan_group_id INTEGER NOT NULL,
    animal_id INTEGER NOT NULL,
    from_day DATE NOT NULL,
    to_day DATE NOT NULL,
    capacity INTEGER NOT NULL,
    capacity_by_hand BOOLEAN NOT NULL,
    fit_for_heifers BOOLEAN NOT NULL,
    CONSTRAINT ck_plan_bull_order CHECK (to_day >= from_day),
    CONSTRAINT fk_plan_bull_plan_group_id FOREIGN KEY(plan_group_id) REFERENCES plan_group (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_plan_bull_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_plan_bull_animal_id ON plan_bull (animal_id);
CREATE INDEX ix_plan_bull_plan_group_id ON plan_bull (plan_group_id);
CREATE TABLE plan_choice (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    plan_id INTEGER NOT NULL,
    animal_id INTEGER NOT NULL,
    kind VARCHAR(40) NOT NULL,
    plan_group_id INTEGER,
    place VARCHAR(40),
    reason TEXT,
    CONSTRAINT ck_plan_choice_kind_word CHECK (kind IN ('must', 'must_not', 'place')),
    CONSTRAINT ck_plan_choice_place_word CHECK (place IN ('not_bred', 'finishing', 'sell')),
    CONSTRAINT ck_plan_choice_place_told CHECK ((kind = 'place') = (place IS NOT NULL)),
    CONSTRAINT ck_plan_choice_group_told CHECK ((kind = 'place') = (plan_group_id IS NULL)),
    CONSTRAINT fk_plan_choice_plan_id FOREIGN KEY(plan_id) REFERENCES season_plan (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_plan_choice_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_plan_choice_plan_group_id FOREIGN KEY(plan_group_id) REFERENCES plan_group (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_plan_choice_animal_id ON plan_choice (animal_id);
CREATE INDEX ix_plan_choice_plan_group_id ON plan_choice (plan_group_id);
CREATE INDEX ix_plan_choice_plan_id ON plan_choice (plan_id);
CREATE TABLE plan_group (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    plan_id INTEGER NOT NULL,
    position INTEGER NOT NULL,
    capacity INTEGER NOT NULL,
    capacity_by_hand BOOLEAN NOT NULL,
    paddock INTEGER,
    CONSTRAINT fk_plan_group_plan_id FOREIGN KEY(plan_id) REFERENCES season_plan (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_plan_group_plan_id ON plan_group (plan_id);
CREATE TABLE plan_place (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    plan_id INTEGER NOT NULL,
    animal_id INTEGER NOT NULL,
    place VARCHAR(40) NOT NULL,
    plan_group_id INTEGER,
    inbreeding FLOAT,
    known BOOLEAN NOT NULL,
    affected FLOAT,
    code VARCHAR(40),
    by_hand BOOLEAN NOT NULL,
    reason TEXT,
    CONSTRAINT ck_plan_place_place_word CHECK (place IN ('bull', 'not_bred', 'finishing', 'sell')),
    CONSTRAINT fk_plan_place_plan_id FOREIGN KEY(plan_id) REFERENCES season_plan (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_plan_place_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_plan_place_plan_group_id FOREIGN KEY(plan_group_id) REFERENCES plan_group (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_plan_place_animal_id ON plan_place (animal_id);
CREATE INDEX ix_plan_place_plan_group_id ON plan_place (plan_group_id);
CREATE INDEX ix_plan_place_plan_id ON plan_place (plan_id);
CREATE TABLE pregnancy_check (
    method VARCHAR(40),
    result VARCHAR(40) NOT NULL,
    days INTEGER,
    sire_id INTEGER,
    due_from DATE,
    due_to DATE,
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT ck_pregnancy_check_method_word CHECK (method IN ('scan', 'hand', 'blood', 'milk', 'eye', 'statement', 'other')),
    CONSTRAINT ck_pregnancy_check_result_word CHECK (result IN ('pregnant', 'open', 'multiple', 'unknown')),
    CONSTRAINT ck_pregnancy_check_days_range CHECK (days >= 0 AND days <= 320),
    CONSTRAINT fk_pregnancy_check_sire_id FOREIGN KEY(sire_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_pregnancy_check_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_pregnancy_check_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_pregnancy_check_animal_id ON pregnancy_check (animal_id);
CREATE INDEX ix_pregnancy_check_day ON pregnancy_check (day);
CREATE INDEX ix_pregnancy_check_round_id ON pregnancy_check (round_id);
CREATE INDEX ix_pregnancy_check_sire_id ON pregnancy_check (sire_id);
CREATE TABLE quarantine (
    until DATE,
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_quarantine_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_quarantine_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_quarantine_animal_id ON quarantine (animal_id);
CREATE INDEX ix_quarantine_day ON quarantine (day);
CREATE INDEX ix_quarantine_round_id ON quarantine (round_id);
CREATE TABLE rearing (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    animal_id INTEGER NOT NULL,
    by_id INTEGER,
    from_day DATE NOT NULL,
    to_day DATE,
    CONSTRAINT fk_rearing_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_rearing_by_id FOREIGN KEY(by_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_rearing_animal_id ON rearing (animal_id);
CREATE INDEX ix_rearing_by_id ON rearing (by_id);
CREATE TABLE remark (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_remark_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_remark_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_remark_animal_id ON remark (animal_id);
CREATE INDEX ix_remark_day ON remark (day);
CREATE INDEX ix_remark_round_id ON remark (round_id);
CREATE TABLE round (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    work VARCHAR(40) NOT NULL,
    group_id INTEGER,
    note TEXT,
    CONSTRAINT fk_round_group_id FOREIGN KEY(group_id) REFERENCES herd_group (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_round_group_id ON round (group_id);
CREATE TABLE score (
    kind VARCHAR(40) NOT NULL,
    scale VARCHAR(40) NOT NULL,
    value FLOAT NOT NULL,
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_score_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_score_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_score_animal_id ON score (animal_id);
CREATE INDEX ix_score_day ON score (day);
CREATE INDEX ix_score_round_id ON score (round_id);
CREATE TABLE season_plan (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    name VARCHAR(200) NOT NULL,
    version INTEGER NOT NULL,
    made DATETIME NOT NULL,
    bull_in DATE NOT NULL,
    bull_out DATE NOT NULL,
    limit_inbreeding FLOAT NOT NULL,
    held VARCHAR(40) NOT NULL,
    asked TEXT,
    proven BOOLEAN NOT NULL,
    gap FLOAT NOT NULL,
    accepted DATE,
    replaced DATE,
    note TEXT,
    CONSTRAINT ck_season_plan_order CHECK (bull_out >= bull_in),
    CONSTRAINT ck_season_plan_held_word CHECK (held IN ('worst', 'expected'))
);
CREATE TABLE service (
    sire_id INTEGER,
    how VARCHAR(40) NOT NULL,
    straw_batch VARCHAR(200),
    technician VARCHAR(200),
    donor_id INTEGER,
    embryo_days INTEGER,
    kept VARCHAR(40),
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT ck_service_how_word CHECK (how IN ('seen', 'hand', 'ai', 'embryo')),
    CONSTRAINT ck_service_kept_word CHECK (kept IN ('fresh', 'frozen')),
    CONSTRAINT fk_service_sire_id FOREIGN KEY(sire_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_service_donor_id FOREIGN KEY(donor_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_service_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_service_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_service_animal_id ON service (animal_id);
CREATE INDEX ix_service_day ON service (day);
CREATE INDEX ix_service_donor_id ON service (donor_id);
CREATE INDEX ix_service_round_id ON service (round_id);
CREATE INDEX ix_service_sire_id ON service (sire_id);
CREATE TABLE setting (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    "key" VARCHAR(200) NOT NULL,
    value TEXT NOT NULL,
    CONSTRAINT uq_setting_key UNIQUE ("key")
);
CREATE TABLE sign_seen (
    what VARCHAR(200) NOT NULL,
    code VARCHAR(40),
    at VARCHAR(40),
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_sign_seen_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_sign_seen_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_sign_seen_animal_id ON sign_seen (animal_id);
CREATE INDEX ix_sign_seen_day ON sign_seen (day);
CREATE INDEX ix_sign_seen_round_id ON sign_seen (round_id);
CREATE TABLE stay (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    animal_id INTEGER NOT NULL,
    holding_id INTEGER NOT NULL,
    from_day DATE NOT NULL,
    to_day DATE,
    why VARCHAR(40) NOT NULL,
    CONSTRAINT ck_stay_why_word CHECK (why IN ('home', 'hire', 'tack', 'show')),
    CONSTRAINT ck_stay_order CHECK (to_day IS NULL OR to_day >= from_day),
    CONSTRAINT fk_stay_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_stay_holding_id FOREIGN KEY(holding_id) REFERENCES holding (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_stay_animal_id ON stay (animal_id);
CREATE INDEX ix_stay_holding_id ON stay (holding_id);
CREATE INDEX ix_stay_open ON stay (to_day, from_day, animal_id);
CREATE TABLE task_done (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    task VARCHAR(200) NOT NULL,
    day DATE NOT NULL,
    ask_again DATE
);
CREATE INDEX ix_task_done_task ON task_done (task);
CREATE TABLE treatment (
    product VARCHAR(200) NOT NULL,
    batch VARCHAR(200),
    dose VARCHAR(200),
    route VARCHAR(40),
    meat_days FLOAT,
    no_breeding_days FLOAT,
    last_day DATE,
    by_whom VARCHAR(200),
    reason VARCHAR(200),
    medicine_id INTEGER,
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT ck_treatment_meat_days_range CHECK (meat_days >= 0),
    CONSTRAINT ck_treatment_no_breeding_days_range CHECK (no_breeding_days >= 0),
    CONSTRAINT fk_treatment_medicine_id FOREIGN KEY(medicine_id) REFERENCES medicine (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_treatment_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_treatment_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_treatment_animal_id ON treatment (animal_id);
CREATE INDEX ix_treatment_day ON treatment (day);
CREATE INDEX ix_treatment_medicine_id ON treatment (medicine_id);
CREATE INDEX ix_treatment_round_id ON treatment (round_id);
CREATE TABLE weaning (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT fk_weaning_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_weaning_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_weaning_animal_id ON weaning (animal_id);
CREATE INDEX ix_weaning_day ON weaning (day);
CREATE INDEX ix_weaning_round_id ON weaning (round_id);
CREATE TABLE weighing (
    kg FLOAT NOT NULL,
    unit VARCHAR(40) NOT NULL,
    method VARCHAR(40) NOT NULL,
    stage VARCHAR(40),
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    day DATE NOT NULL,
    day_precision VARCHAR(40) DEFAULT 'day' NOT NULL,
    recorded DATETIME NOT NULL,
    note TEXT,
    animal_id INTEGER NOT NULL,
    round_id INTEGER,
    CONSTRAINT ck_weighing_positive CHECK (kg > 0),
    CONSTRAINT ck_weighing_method_word CHECK (method IN ('scale', 'girth', 'estimate')),
    CONSTRAINT ck_weighing_stage_word CHECK (stage IN ('birth', 'weaning', 'yearling', 'other')),
    CONSTRAINT fk_weighing_animal_id FOREIGN KEY(animal_id) REFERENCES animal (id) DEFERRABLE INITIALLY IMMEDIATE,
    CONSTRAINT fk_weighing_round_id FOREIGN KEY(round_id) REFERENCES round (id) DEFERRABLE INITIALLY IMMEDIATE
);
CREATE INDEX ix_weighing_animal_id ON weighing (animal_id);
CREATE INDEX ix_weighing_day ON weighing (day);
CREATE INDEX ix_weighing_round_id ON weighing (round_id);
