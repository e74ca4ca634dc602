//! Colours and type: the Okabe–Ito palette as a base, dark and light; never the only carrier of a meaning.

use eframe::egui::{
    self, Color32, CornerRadius, FontFamily, FontId, Margin, Stroke, TextStyle, Theme, Visuals,
    style::WidgetVisuals, vec2,
};

/// The colours of one theme, by what they mean.
#[derive(Clone, Copy, Debug)]
pub struct Palette {
    /// Behind everything.
    pub ground: Color32,
    /// Strips and panels.
    pub panel: Color32,
    /// Buttons, fields, cards.
    pub raised: Color32,
    /// Hairlines and tick marks.
    pub line: Color32,
    /// Text and numbers.
    pub text: Color32,
    /// Names of numbers, hints.
    pub quiet: Color32,
    /// Within the limit (bluish green).
    pub good: Color32,
    /// Beyond the limit (vermillion).
    pub bad: Color32,
    /// Settling, fine only, held (sky blue or blue).
    pub moving: Color32,
    /// Warnings (orange or its dark shade).
    pub warn: Color32,
    /// The acceptable part of the target band.
    pub accept: Color32,
    /// The good part of the target band.
    pub aim: Color32,
    /// The trail behind the needle.
    pub trail: Color32,
    /// The second channel's trail (reddish purple).
    pub second: Color32,
}

const DARK: Palette = Palette {
    ground: Color32::from_rgb(0x0e, 0x12, 0x16),
    panel: Color32::from_rgb(0x17, 0x1d, 0x23),
    raised: Color32::from_rgb(0x22, 0x2a, 0x32),
    line: Color32::from_rgb(0x6a, 0x76, 0x82),
    text: Color32::from_rgb(0xf6, 0xf8, 0xfa),
    quiet: Color32::from_rgb(0xbc, 0xc6, 0xd0),
    good: Color32::from_rgb(0x2c, 0xc9, 0x9a),
    bad: Color32::from_rgb(0xff, 0x86, 0x40),
    moving: Color32::from_rgb(0x56, 0xb4, 0xe9),
    warn: Color32::from_rgb(0xf0, 0xae, 0x1e),
    accept: Color32::from_rgb(0x10, 0x3a, 0x32),
    aim: Color32::from_rgb(0x12, 0x5c, 0x4b),
    trail: Color32::from_rgb(0x8f, 0xce, 0xf2),
    second: Color32::from_rgb(0xe0, 0x9a, 0xc2),
};

const LIGHT: Palette = Palette {
    ground: Color32::from_rgb(0xfc, 0xfb, 0xf8),
    panel: Color32::from_rgb(0xee, 0xed, 0xe8),
    raised: Color32::from_rgb(0xff, 0xff, 0xff),
    line: Color32::from_rgb(0x7c, 0x82, 0x88),
    text: Color32::from_rgb(0x0c, 0x10, 0x14),
    quiet: Color32::from_rgb(0x40, 0x49, 0x51),
    good: Color32::from_rgb(0x00, 0x68, 0x4a),
    bad: Color32::from_rgb(0xac, 0x44, 0x00),
    moving: Color32::from_rgb(0x00, 0x5c, 0x94),
    warn: Color32::from_rgb(0x85, 0x55, 0x00),
    accept: Color32::from_rgb(0xd2, 0xee, 0xe4),
    aim: Color32::from_rgb(0x9a, 0xda, 0xc4),
    trail: Color32::from_rgb(0x00, 0x62, 0xa0),
    second: Color32::from_rgb(0x8e, 0x3a, 0x6c),
};

impl Palette {
    /// The colours in use.
    pub fn of(ui: &egui::Ui) -> &'static Self {
        Self::of_theme(if ui.visuals().dark_mode {
            Theme::Dark
        } else {
            Theme::Light
        })
    }

    /// The colours of a theme.
    pub const fn of_theme(theme: Theme) -> &'static Self {
        match theme {
            Theme::Dark => &DARK,
            Theme::Light => &LIGHT,
        }
    }
}

/// Type for numbers and for words that are read from a metre away: sturdy, and digits of one width.
pub fn strong(size: f32) -> FontId {
    FontId::new(size, FontFamily::Monospace)
}

/// Type for everything else.
pub fn text(size: f32) -> FontId {
    FontId::new(size, FontFamily::Proportional)
}

/// Names of numbers.
pub const LABEL: f32 = 15.0;
/// Quiet figures.
pub const FIGURE: f32 = 21.0;

/// Installs both themes. Call once, before the first frame.
pub fn install(ctx: &egui::Context) {
    for theme in [Theme::Dark, Theme::Light] {
        ctx.set_visuals_of(theme, visuals(theme));
    }
    ctx.all_styles_mut(|style| {
        style.text_styles = [
            (TextStyle::Small, text(14.0)),
            (TextStyle::Body, text(16.0)),
            (TextStyle::Button, text(16.0)),
            (TextStyle::Heading, text(22.0)),
            (TextStyle::Monospace, strong(15.0)),
        ]
        .into();
        style.spacing.item_spacing = vec2(8.0, 6.0);
        style.spacing.button_padding = vec2(10.0, 5.0);
        style.spacing.interact_size.y = 28.0;
        style.spacing.window_margin = Margin::same(10);
        style.interaction.selectable_labels = false;
        // A screen that measures does not slide things about.
        style.animation_time = 0.0;
        style.scroll_animation = egui::style::ScrollAnimation::none();
    });
}

fn visuals(theme: Theme) -> Visuals {
    let palette = Palette::of_theme(theme);
    let mut visuals = theme.default_visuals();
    // A caret that blinks would have the window drawn anew for nothing.
    visuals.text_cursor.blink = false;
    visuals.override_text_color = Some(palette.text);
    visuals.weak_text_color = Some(palette.quiet);
    visuals.panel_fill = palette.panel;
    visuals.window_fill = palette.panel;
    visuals.extreme_bg_color = palette.ground;
    visuals.faint_bg_color = palette.raised;
    visuals.text_edit_bg_color = Some(palette.ground);
    visuals.warn_fg_color = palette.warn;
    visuals.error_fg_color = palette.bad;
    visuals.hyperlink_color = palette.moving;
    visuals.selection.bg_fill = palette.aim;
    visuals.selection.stroke = Stroke::new(1.5, palette.text);
    visuals.window_stroke = Stroke::new(1.0, palette.line);
    let corner = CornerRadius::same(3);
    let widget = |fill: Color32, border: Color32, width: f32| WidgetVisuals {
        bg_fill: fill,
        weak_bg_fill: fill,
        bg_stroke: Stroke::new(width, border),
        corner_radius: corner,
        fg_stroke: Stroke::new(1.5, palette.text),
        expansion: 0.0,
    };
    visuals.widgets.noninteractive = widget(palette.panel, palette.line, 1.0);
    visuals.widgets.inactive = widget(palette.raised, palette.line, 1.0);
    visuals.widgets.hovered = widget(palette.raised, palette.text, 1.0);
    visuals.widgets.active = widget(palette.aim, palette.text, 2.0);
    visuals.widgets.open = widget(palette.raised, palette.text, 1.0);
    visuals
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Contrast ratio of WCAG 2: (lighter + 0.05) / (darker + 0.05), of relative luminances.
    fn contrast(a: Color32, b: Color32) -> f32 {
        let luminance = |color: Color32| {
            let linear = egui::Rgba::from(color);
            0.2126 * linear.r() + 0.7152 * linear.g() + 0.0722 * linear.b()
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn text_stands_out_on_everything_it_is_written_on() {
        for theme in [Theme::Dark, Theme::Light] {
            let palette = Palette::of_theme(theme);
            for ground in [palette.ground, palette.panel, palette.raised] {
                for (name, color, least) in [
                    ("text", palette.text, 12.0),
                    ("quiet", palette.quiet, 7.0),
                    ("good", palette.good, 4.5),
                    ("bad", palette.bad, 4.5),
                    ("moving", palette.moving, 4.5),
                    ("warn", palette.warn, 4.5),
                    ("line", palette.line, 3.0),
                ] {
                    let ratio = contrast(color, ground);
                    assert!(ratio >= least, "{theme:?} {name}: {ratio:.1}");
                }
            }
        }
    }

    #[test]
    fn the_needle_and_trail_stand_out_on_the_band() {
        for theme in [Theme::Dark, Theme::Light] {
            let palette = Palette::of_theme(theme);
            for band in [palette.accept, palette.aim] {
                for color in [palette.text, palette.trail, palette.second] {
                    let ratio = contrast(color, band);
                    assert!(ratio >= 3.0, "{theme:?}: {ratio:.1}");
                }
            }
            assert!(contrast(palette.accept, palette.ground) > 1.1);
            assert!(contrast(palette.aim, palette.accept) > 1.2);
        }
    }

    /// A contrast of luminances is all that is left in grey. WCAG 2 asks for 3 to 1 of what means something in a
    /// picture (success criterion 1.4.11) and 4.5 to 1 of text (1.4.3).
    #[test]
    fn all_that_stands_on_a_scale_is_seen_in_grey() {
        for theme in [Theme::Dark, Theme::Light] {
            let palette = Palette::of_theme(theme);
            for (ground, name) in [
                (palette.panel, "the ends"),
                (palette.accept, "accepted"),
                (palette.aim, "good"),
            ] {
                for (what, color, least) in [
                    ("needle, markers and words", palette.text, 4.5),
                    ("edges of the band", palette.good, 3.0),
                    ("arrows of a reading that is out", palette.bad, 3.0),
                    ("arrows of a reading that settles", palette.moving, 3.0),
                    ("trail", palette.trail, 3.0),
                    ("trail of the second channel", palette.second, 3.0),
                ] {
                    let ratio = contrast(color, ground);
                    assert!(ratio >= least, "{theme:?} {what} on {name}: {ratio:.2}");
                }
            }
            // The tick and the bar that are cut out of the marks of states and warnings.
            for color in [palette.good, palette.warn] {
                let ratio = contrast(palette.ground, color);
                assert!(ratio >= 4.5, "{theme:?} a cut-out: {ratio:.2}");
            }
        }
    }
}
