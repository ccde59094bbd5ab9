//! A job with less in it than another.

use super::Job;
use crate::length::Length;

impl Job {
    /// The same job with some of its materials only, by their places in [`Job::materials`], in the order
    /// given; places that there are not are passed over. It has no notes.
    ///
    /// ```
    /// use lengthwise::JobInput;
    /// let job = JobInput::default().validate()?;
    /// assert!(job.of_materials(&[0]).materials().is_empty());
    /// # Ok::<(), lengthwise::Faults>(())
    /// ```
    #[must_use]
    pub fn of_materials(&self, places: &[usize]) -> Job {
        let materials = places.iter().filter_map(|&place| self.materials.get(place));
        Job {
            materials: materials.cloned().collect(),
            notes: Vec::new(),
        }
    }

    /// The same job without the bars to buy that have more to use than this, for each material in their
    /// order; `None` for all its bars. Materials beyond the list keep theirs.
    ///
    /// See [`Terms::longest_bar`](crate::insure::Terms::longest_bar).
    #[must_use]
    pub fn without_longer(&self, longest: &[Option<Length>]) -> Job {
        let mut job = self.clone();
        for (material, longest) in job.materials.iter_mut().zip(longest) {
            if let Some(longest) = *longest {
                material.withdraw_longer(longest);
            }
        }
        job
    }
}
